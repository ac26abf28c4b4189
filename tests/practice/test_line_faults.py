"""What the faults of line and operator make of the order of a line."""

import pytest

from agent.errors import UsageError
from agent.practice.beyond import BeyondSpec, BusyEdge
from agent.practice.faults import as_struck, find_fault
from agent.practice.line import FaultChoice, LineSpec, Severity
from agent.practice.path import NarrowLink, PathSpec
from agent.practice.tiers import line_for
from agent.practice.truths import played_on
from agent.practice.upstream import crowd_of
from agent.settings.choose import pick_tier
from agent.settings.loader import load

MBIT = 1_000_000
FRAME_OF_IP = 1514 / 1500
"""IEEE 802.3: 14 octets of header before a packet of 1500."""

SETTINGS = load(None, {}, {}).settings


def struck(*names, **line):
    return as_struck(LineSpec(faults=tuple(map(FaultChoice.parse, names)), **line))


def sold(tier, *names):
    """Return the struck line of a tier of the shipped catalogue."""
    line = line_for(pick_tier(SETTINGS, tier), catalogue=SETTINGS.tiers)
    return as_struck(LineSpec(**{**members(line), "faults": tuple(map(FaultChoice.parse, names))}))


def members(line):
    return {name: getattr(line, name) for name in LineSpec.__dataclass_fields__}


# Rates and provisioning as config/tiers.toml sells them: 50/10 at 1.05 times, 25/5 at 1.1 times,
# 250/100 is faster in one direction than 300/30, and the radio product is on no wire.
@pytest.mark.parametrize(
    ("tier", "severity", "name", "carried"),
    [
        ("Tern Bay 100/20", "light", "Tern Bay 50/10", (50, 10, 1.05)),
        ("Tern Bay 100/20", "medium", "Tern Bay 25/5", (25, 5, 1.1)),
        ("Tern Bay 100/20", "severe", "Tern Bay 25/5", (25, 5, 1.1)),
        ("Tern Bay 300/30", "light", "Tern Bay 100/20", (100, 20, 1.1)),
        ("Tern Bay 50/10", "light", "Tern Bay 25/5", (25, 5, 1.1)),
        ("Tern Bay Air 60/10", "light", "Tern Bay 50/10", (50, 10, 1.05)),
    ],
)
@pytest.mark.parametrize("fault", ["wrong-profile", "swapped-drop-slow"])
def test_another_product_is_carried_at_exactly_its_own_provisioning(
    fault, tier, severity, name, carried
):
    line = sold(tier, f"{fault}:{severity}")
    *rates, times = carried
    shaped = (line.shaped_down_bps, line.shaped_up_bps)
    assert shaped == pytest.approx([rate * MBIT * FRAME_OF_IP * times for rate in rates], abs=2)
    assert played_on(line)["product"] == name
    assert not line.frame_by_frame


def test_the_smallest_product_cannot_be_mixed_up_with_a_smaller_one():
    with pytest.raises(UsageError, match="no product below Tern Bay 25/5"):
        sold("Tern Bay 25/5", "wrong-profile")


@pytest.mark.parametrize(("severity", "share"), [("light", 0.6), ("medium", 0.4), ("severe", 0.2)])
def test_a_slow_upload_leaves_the_download_whole(severity, share):
    line = struck(f"slow-up:{severity}", down_bps=100 * MBIT, up_bps=20 * MBIT)
    assert line.shaped_up_bps == pytest.approx(share * 20 * MBIT)
    assert line.shaped_down_bps == LineSpec(down_bps=100 * MBIT).shaped_down_bps


@pytest.mark.parametrize(
    ("fault", "expected"),
    [
        ("lossy-up", {"loss_up": 0.02, "loss_down": 0.0, "burst": 1.0}),
        ("lossy-runs", {"loss_up": 0.02, "loss_down": 0.02, "burst": 5.0}),
        ("line-drops", {"dark_s": 1.5, "dark_every_s": 4.0}),
        ("noisy-line", {"jitter_ms": 6.0}),
        ("deep-buffer", {"queue_ms": 900.0, "congestion": "reno"}),
    ],
)
def test_what_a_fault_of_the_line_changes(fault, expected):
    line = struck(fault)
    assert {name: getattr(line, name) for name in expected} == expected


@pytest.mark.parametrize(
    ("fault", "beyond"),
    [
        ("busy-edge", BeyondSpec(busy=BusyEdge(left_share=0.55))),
        ("lossy-core", BeyondSpec(core_loss=0.02)),
        ("detour", BeyondSpec(detour_ms=80.0)),
        ("server-slow", BeyondSpec(server_share=0.5)),
    ],
)
def test_a_fault_of_the_operator_leaves_the_line_itself_as_it_was(fault, beyond):
    line, sound = struck(fault), LineSpec()
    assert line.beyond == beyond
    assert (line.shaped_down_bps, line.queue_ms) == (sound.shaped_down_bps, sound.queue_ms)
    assert not line.frame_by_frame


def test_faults_of_the_operator_add_up_and_keep_what_was_ordered_of_the_path():
    line = struck("detour", "lossy-core", "mtu-black-hole", hops=1, path=PathSpec(silent=(3,)))
    assert line.beyond == BeyondSpec(detour_ms=80.0, core_loss=0.02, hole_mtu_bytes=1400)
    hole = NarrowLink(at=3, mtu_bytes=1400, swallowed=True)
    assert line.path == PathSpec(silent=(3,), narrow=hole)
    assert line.hops == 3
    assert struck("detour", hops=7).hops == 7


@pytest.mark.parametrize(("home", "at"), [("ipv4-only", 3), ("double-router", 4), ("at-modem", 2)])
def test_a_black_hole_lies_past_the_edge_however_many_routers_the_home_has(home, at):
    hole = NarrowLink(at=at, mtu_bytes=1300, swallowed=True)
    assert struck("mtu-black-hole:severe", home=home).path.narrow == hole


@pytest.mark.parametrize(("left", "load_mbit"), [(0.8, 85), (0.55, 110), (0.3, 135)])
def test_a_crowd_takes_all_of_its_link_but_this_customers_share(left, load_mbit):
    line = LineSpec(down_bps=100 * MBIT)
    crowd = crowd_of(line, BusyEdge(left_share=left), line.down_bps, "down")
    # The link is 1.5 times a line of 1.1 times 100 Mbit/s.
    assert crowd.link_bps == pytest.approx(165 * MBIT)
    assert crowd.load_bps == pytest.approx(load_mbit * MBIT)


def test_a_fault_strikes_harder_at_every_severity():
    hard = [find_fault("busy-edge").effects[one].beyond["busy"].left_share for one in Severity]
    assert hard == sorted(hard, reverse=True)
    for fault, member in (("detour", "detour_ms"), ("lossy-core", "core_loss")):
        hard = [find_fault(fault).effects[one].beyond[member] for one in Severity]
        assert hard == sorted(set(hard))


@pytest.mark.parametrize(
    ("names", "told"),
    [
        ((), {"queue_ms": 100.0}),
        (("line-drops:light",), {"queue_ms": 100.0, "dark_s": 0.5, "dark_every_s": 3.0}),
        (("lossy-runs:severe",), {"queue_ms": 100.0, "loss_run": 8.0}),
        (("server-slow:severe",), {"queue_ms": 100.0, "server_port_bps": 30 * MBIT}),
        (("mtu-black-hole:light",), {"queue_ms": 100.0, "path_mtu_bytes": 1480}),
        (
            ("busy-edge-wavering:severe",),
            {"queue_ms": 100.0, "busy_left_share": 0.2, "busy_swing_s": 5.0},
        ),
        (
            ("detour", "lossy-core:light", "deep-buffer"),
            {"queue_ms": 900.0, "detour_ms": 80.0, "core_loss": 0.01},
        ),
    ],
)
def test_the_truth_tells_what_was_played_and_no_more(names, told):
    assert played_on(struck(*names, down_bps=100 * MBIT)) == told
