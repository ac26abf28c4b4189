"""The order of a practice line, its addresses and faults as plain values."""

import ipaddress

import pytest
from hypothesis import given
from hypothesis import strategies as st

from agent.diagnosis.table import RULES
from agent.errors import UsageError
from agent.practice.addresses import plan_addresses
from agent.practice.beyond import BeyondSpec, BusyEdge
from agent.practice.faults import CATALOGUE, as_struck, segment_of, silent_services
from agent.practice.line import FaultChoice, LineSpec, Severity
from agent.practice.orders import spec_document, spec_from
from agent.practice.path import NarrowLink, PathSpec
from agent.practice.products import Product
from agent.practice.strikes import STRIKES
from agent.practice.tiers import frame_bps, line_for
from agent.settings.model import Layer, Tier

# RFC 5737 (documentation), RFC 6598 (shared), RFC 6890 §2.2.2 table 10 (benchmarking).
SET_ASIDE = [
    ipaddress.ip_network(text)
    for text in (
        "192.0.2.0/24",
        "198.51.100.0/24",
        "203.0.113.0/24",
        "100.64.0.0/10",
        "198.18.0.0/15",
    )
]


def spec_with(*names, **line):
    return LineSpec(faults=tuple(FaultChoice.parse(name) for name in names), **line)


def every_address(plan):
    own = (plan.laptop, plan.router, plan.wan, plan.edge, plan.modem, plan.modem_neighbour)
    ends = (plan.server, plan.server_gateway, plan.outside, plan.outside_gateway, plan.resolver)
    sites = tuple(site.address for site in plan.sites)
    return [*own, *ends, *sites, *(address for pair in plan.core for address in pair)]


@given(st.integers(), st.integers(1, 20))
def test_addresses_are_set_aside_for_such_use_and_nobody_shares_one(seed, hops):
    plan = plan_addresses(seed, hops)
    addresses = every_address(plan)
    assert len(set(addresses)) == len(addresses)
    for address in map(ipaddress.ip_address, addresses):
        assert any(address in network for network in SET_ASIDE)


@given(st.integers(), st.integers(1, 20))
def test_laptop_lies_in_the_pool_and_the_pool_in_the_home_network(seed, hops):
    plan = plan_addresses(seed, hops)
    first, own, last = map(ipaddress.ip_address, (plan.pool_first, plan.laptop, plan.pool_last))
    assert first <= own <= last
    assert {first, last} <= set(ipaddress.ip_network(plan.lan).hosts())
    assert ipaddress.ip_address(plan.router) < first


def test_names_end_in_the_domain_reserved_for_examples():
    assert all(name.endswith(".example") for name in plan_addresses(1, 1).names)


def test_seed_decides_the_addresses():
    assert plan_addresses(7, 2) == plan_addresses(7, 2)
    assert len({plan_addresses(seed, 1).laptop for seed in range(20)}) > 10


paths = st.builds(
    PathSpec,
    silent=st.just((3,)) | st.just(()),
    narrow=st.none()
    | st.builds(NarrowLink, at=st.integers(2, 3), mtu_bytes=st.integers(576, 1500)),
    clamp_mss=st.booleans(),
)

beyonds = st.builds(
    BeyondSpec,
    core_loss=st.floats(0, 0.9),
    busy=st.none() | st.builds(BusyEdge, left_share=st.floats(0.1, 1), swing_s=st.floats(0, 60)),
    server_share=st.none() | st.floats(0.1, 1),
)
rates = st.integers(10**6, 10**9)
products = st.builds(Product, name=st.text(), down_bps=rates, up_bps=rates)


@given(
    st.builds(
        LineSpec,
        seed=st.integers(),
        rtt_ms=st.floats(0, 500),
        loss_down=st.floats(0, 0.99),
        path=paths,
        beyond=beyonds,
        products=st.lists(products, max_size=3).map(tuple),
        faults=st.lists(
            st.builds(
                FaultChoice,
                name=st.sampled_from([fault.name for fault in CATALOGUE]),
                severity=st.sampled_from(Severity),
            ),
            max_size=3,
        ).map(tuple),
    )
)
def test_a_specification_survives_its_way_to_the_supervisor(spec):
    assert spec_from(spec_document(spec)) == spec


@pytest.mark.parametrize(
    "wrong",
    [
        {"loss_down": 1.0},
        {"loss_up": -0.1},
        {"rtt_ms": -1},
        {"burst": 0.5},
        {"hops": 0},
        {"down_bps": 100},
        {"handover": "carrier-pigeon"},
        {"dark_s": 1.0},
        {"dark_s": -1.0},
        {"beyond": BeyondSpec(core_loss=1.0)},
        {"beyond": BeyondSpec(detour_ms=-1.0)},
        {"beyond": BeyondSpec(server_share=0.0)},
        {"beyond": BeyondSpec(busy=BusyEdge(left_share=1.5))},
        {"beyond": BeyondSpec(busy=BusyEdge(left_share=0.5, swing_s=-2.0))},
    ],
)
def test_what_cannot_be_played_is_refused(wrong):
    with pytest.raises(UsageError):
        LineSpec(**wrong)


@pytest.mark.parametrize(
    ("text", "name", "severity"),
    [
        ("slow-line", "slow-line", Severity.MEDIUM),
        ("slow-line:light", "slow-line", Severity.LIGHT),
        ("dead-dns:severe", "dead-dns", Severity.SEVERE),
    ],
)
def test_a_fault_is_chosen_by_name_and_severity(text, name, severity):
    assert FaultChoice.parse(text) == FaultChoice(name=name, severity=severity)


def test_an_unknown_severity_is_told_with_those_there_are():
    with pytest.raises(UsageError, match="light, medium, severe"):
        FaultChoice.parse("slow-line:cruel")


@pytest.mark.parametrize(("severity", "share"), [("light", 0.7), ("medium", 0.5), ("severe", 0.3)])
def test_slow_line_carries_its_share_of_the_tier_whatever_the_line_was(severity, share):
    spec = spec_with(f"slow-line:{severity}", down_bps=10**8, up_bps=10**7, line_down_bps=10**9)
    struck = as_struck(spec)
    assert struck.shaped_down_bps == pytest.approx(share * 10**8)
    assert struck.shaped_up_bps == pytest.approx(share * 10**7)


@pytest.mark.parametrize(
    ("severity", "loss"), [("light", 0.005), ("medium", 0.02), ("severe", 0.05)]
)
def test_lossy_line_loses_both_ways(severity, loss):
    struck = as_struck(spec_with(f"lossy-line:{severity}"))
    assert (struck.loss_down, struck.loss_up) == (loss, loss)
    assert struck.frame_by_frame


@pytest.mark.parametrize(
    ("names", "segment"),
    [
        ((), "none"),
        (("slow-line",), "access"),
        (("lossy-line:light",), "access"),
        (("modem-dead",), "modem"),
        (("no-lease",), "home"),
        (("dead-dns",), "operator"),
        (("gateway-dead",), "home"),
        (("server-down",), "operator"),
        (("dead-dns", "gateway-dead"), "home"),
        (("slow-up",), "access"),
        (("line-drops",), "access"),
        (("wrong-profile",), "operator"),
        (("lossy-core:severe",), "operator"),
        (("deep-buffer",), "none"),
        (("silent-echo", "limited-hop"), "none"),
    ],
)
def test_true_segment_of_each_fault(names, segment):
    assert segment_of(spec_with(*names)) == segment


def test_a_line_ordered_slower_than_its_tier_is_at_fault_itself():
    assert segment_of(LineSpec(line_up_bps=5_000_000)) == "access"
    assert segment_of(LineSpec(loss_down=0.01)) == "access"
    assert segment_of(LineSpec(line_down_bps=100_000_000, line_up_bps=20_000_000)) == "none"


def test_every_fault_can_be_played_at_every_severity():
    for fault in CATALOGUE:
        assert set(fault.effects) == set(Severity)
        for effect in fault.effects.values():
            assert {effect.prepare, effect.strike} <= {None, *STRIKES}
    assert silent_services(spec_with("no-lease", "dead-dns")) == {"dhcp", "resolver"}


def test_every_fault_has_findings_that_name_it():
    assert len({fault.name for fault in CATALOGUE}) == len(CATALOGUE)
    for fault in CATALOGUE:
        assert set(fault.findings) <= {rule.code for rule in RULES}
        assert fault.findings or fault.segment == "none"


# 1500 octets of packet are 1514 of frame, 1538 on the wire (IEEE 802.3: 14 + 4 + 20).
@pytest.mark.parametrize(
    ("layer", "frame"), [("ip", 100_933_333), ("frame", 10**8), ("wire", 98_439_532)]
)
def test_a_tier_becomes_a_line_at_the_frame_layer(layer, frame):
    tier = Tier(name="T", down_bps=10**8, up_bps=10**7, layer=Layer(layer), provisioned=1.2)
    spec = line_for(tier, up_bps=5_000_000, loss=0.01)
    assert spec.down_bps == frame
    assert spec.shaped_down_bps == pytest.approx(1.2 * frame, abs=1)
    assert spec.shaped_up_bps == frame_bps(5_000_000, Layer(layer))
    assert (spec.loss_down, spec.loss_up) == (0.01, 0.01)


@pytest.mark.parametrize(
    "path",
    [
        PathSpec(silent=(5,)),
        PathSpec(narrow=NarrowLink(at=1, mtu_bytes=1400)),
        PathSpec(narrow=NarrowLink(at=2, mtu_bytes=575)),
        PathSpec(narrow=NarrowLink(at=2, mtu_bytes=1501)),
    ],
)
def test_a_path_that_cannot_be_played_is_refused(path):
    with pytest.raises(UsageError):
        LineSpec(hops=2, path=path)
