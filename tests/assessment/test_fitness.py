"""Fitness before verdict: what is voided, what stays, where nothing is said at all."""

from dataclasses import replace

import pytest
from visits import (
    calm,
    criterion,
    down,
    filled,
    gateway,
    judge,
    lease,
    link,
    server,
    settings,
    visit,
)

from agent.assessment.fitness import outside
from agent.assessment.model import Verdict
from agent.measurements import Direction, Medium, Phase, Role
from agent.settings.model import Fitness

MEETS, BELOW, OPEN = Verdict.MEETS, Verdict.BELOW, Verdict.NOT_PROVEN


@pytest.mark.parametrize(
    ("change", "fact"),
    [
        ({"medium": Medium.WIRELESS}, "wireless"),
        ({"duplex": "half"}, "half_duplex"),
        ({"other_traffic_bps": 20e6}, "other_traffic"),
        ({"cpu_ratio": 0.97}, "processor_busy"),
    ],
)
def test_a_missed_rate_on_an_unfit_laptop_is_not_proven(change, fact):
    conditions = (calm(), calm(Phase.AFTER, **change))
    missed = judge(visit(down(50e6)), conditions=conditions)
    rate = criterion(missed, "throughput-down")
    assert (rate.outcome, rate.reason.code) == (OPEN, "unfit")
    assert rate.reason.values["fact"] == fact
    assert missed.assessment.verdict is OPEN
    kept = judge(visit(), conditions=conditions)
    assert kept.assessment.verdict is MEETS
    assert [(f.name, f.phase) for f in kept.assessment.fitness] == [(fact, "after")]


def test_radio_voids_loss_but_never_a_missing_lease():
    radio = (calm(medium=Medium.WIRELESS),)
    lossy = judge(visit(server(up=40)), conditions=radio)
    assert criterion(lossy, "server-loss-up").outcome is OPEN
    bare = judge(visit(lease(origin="none", address=None)), conditions=radio)
    assert criterion(bare, "lease").outcome is BELOW
    assert bare.assessment.verdict is BELOW


UNTRIED = "Windows"
"""A system that the program never ran on: it may measure anything, and must fail no line by it."""

MISSED = {
    "throughput-down": (down(50e6),),
    "server-loss-up": (server(up=40),),
    "gateway-loss": (gateway(up=60), server(up=40)),
    "server-delay-median": (server(rtt_ms=400.0),),
    "lease": (lease(origin="none", address=None),),
}


@pytest.mark.parametrize("name", sorted(MISSED))
def test_a_system_never_tried_fails_no_line(name):
    found = judge(visit(*MISSED[name]))
    assert criterion(found, name).outcome is BELOW
    untried = judge(visit(*MISSED[name]), conditions=(calm(unverified_system=UNTRIED),))
    assert criterion(untried, name).outcome is OPEN
    assert criterion(untried, name).reason.values["fact"] == "unverified_system"
    assert untried.assessment.verdict is not BELOW
    assert [(f.name, f.measured) for f in untried.assessment.fitness] == [
        ("unverified_system", UNTRIED)
    ]


def test_everything_missed_at_once_fails_no_line_either():
    missed = [part for parts in MISSED.values() for part in parts]
    untried = judge(visit(*missed), conditions=(calm(unverified_system=UNTRIED),))
    assert untried.assessment.verdict is OPEN
    assert not [c.name for c in untried.assessment.criteria if c.outcome is BELOW]


def test_what_a_system_never_tried_shows_to_be_kept_stays_kept():
    kept = judge(visit(), conditions=(calm(unverified_system=UNTRIED),))
    assert kept.assessment.verdict is MEETS


def test_settings_of_before_know_of_systems_never_tried():
    table = settings().fitness.model_dump()
    shipped = table.pop("unverified_system")
    older = Fitness.model_validate(table)
    assert older.unverified_system.model_dump() == shipped
    assert "all" in older.unverified_system.voids


def test_a_fact_only_mentioned_voids_nothing():
    """On battery voids nothing in the shipped table."""
    found = judge(visit(down(50e6)), conditions=(calm(on_battery=True),))
    assert found.assessment.verdict is BELOW
    assert [f.name for f in found.assessment.fitness] == ["on_battery"]


def test_the_link_speaks_where_the_conditions_are_silent():
    found = judge(visit(link(medium=Medium.WIRELESS), down(50e6)), conditions=())
    assert criterion(found, "throughput-down").reason.values["fact"] == "wireless"


@pytest.mark.parametrize("rate", [50e6, 104e6])
@pytest.mark.parametrize(
    ("conditions", "deciding"),
    [
        ((calm(tested_line=False, egress="wl0"),), "another-line"),
        ((calm(tunnel="tun0"),), "tunnel"),
    ],
)
def test_another_way_out_has_no_verdict_either_way(rate, conditions, deciding):
    found = judge(visit(down(rate)), conditions=conditions)
    assert (found.assessment.verdict, found.assessment.deciding) == (OPEN, (deciding,))
    rate = criterion(found, "throughput-down")
    assert (rate.outcome, rate.reason.code) == (OPEN, deciding)
    assert criterion(found, "lease").outcome is MEETS


def test_no_way_out_is_not_another_line():
    found = judge(visit(), conditions=(calm(tested_line=False, egress=None),))
    assert found.assessment.verdict is MEETS


@pytest.mark.parametrize(
    ("seen", "verdict"), [("198.51.100.20", MEETS), ("203.0.113.200", OPEN), ("nonsense", MEETS)]
)
def test_an_address_outside_the_operators_prefixes(seen, verdict):
    rules = settings()
    own = rules.line.model_copy(update={"operator_prefixes": ("198.51.100.0/24",)})
    found = judge(visit(), rules=rules.model_copy(update={"line": own}), seen_address=seen)
    assert found.assessment.verdict is verdict


@pytest.mark.parametrize(
    ("address", "prefixes", "expected"),
    [
        ("198.51.100.1", (), False),
        ("198.51.100.1", ("198.51.100.0/24",), False),
        ("198.51.101.1", ("198.51.100.0/24",), True),
        ("2001:db8::1", ("198.51.100.0/24",), False),
        ("2001:db8:1::1", ("198.51.100.0/24", "2001:db8::/48"), True),
        ("198.51.100.1", ("broken",), False),
    ],
)
def test_outside(address, prefixes, expected):
    assert outside(address, prefixes) is expected


@pytest.mark.parametrize(("traffic", "expected"), [(4e6, BELOW), (20e6, OPEN)])
def test_other_traffic_as_a_share_of_the_tier(traffic, expected):
    rules = settings()
    share = rules.fitness.other_traffic.model_copy(update={"unit": "ratio", "threshold": 0.05})
    table = rules.fitness.model_copy(update={"other_traffic": share})
    found = judge(
        visit(down(50e6)),
        rules=rules.model_copy(update={"fitness": table}),
        conditions=(calm(other_traffic_bps=traffic),),
    )
    assert found.assessment.verdict is expected


def test_a_wrong_clock_voids_reach_either_side_of_right():
    for offset in (-7.2e6, 7.2e6):
        found = judge(visit(), conditions=(calm(clock_offset_ms=offset),))
        assert [f.name for f in found.assessment.fitness] == ["clock_offset"]


@pytest.mark.parametrize(
    ("facts", "name"), [({"medium": Medium.TUNNEL}, "tunnel"), ({"duplex": "half"}, "half_duplex")]
)
def test_the_tested_port_itself(facts, name):
    found = judge(visit(link(**facts)), conditions=())
    assert [f.name for f in found.assessment.fitness] == [name]


@pytest.mark.parametrize(("other", "expected"), [(18e6, BELOW), (19e6, OPEN)])
def test_other_traffic_voids_only_what_it_can_explain(other, expected):
    """The limit is 86.88 Mbit/s of payload; twice the traffic must fill up the 50 measured."""
    found = judge(visit(down(50e6)), conditions=(calm(other_traffic_bps=other),))
    assert found.assessment.verdict is expected


@pytest.mark.parametrize(("own", "expected"), [(0.1, BELOW), (0.8, OPEN), (None, OPEN)])
def test_a_busy_processor_voids_only_what_needed_much_of_it(own, expected):
    slow = down(50e6)
    told = replace(slow, observed=replace(slow.observed, cpu_ratio=own))
    found = judge(visit(told), conditions=(calm(cpu_ratio=0.99),))
    assert found.assessment.verdict is expected


@pytest.mark.parametrize(
    ("phase", "near_ms", "expected"),
    [
        # What was so only while the line was filled accounts for nothing of the idle line.
        (Phase.DURING, 30.0, BELOW),
        (Phase.BEFORE, 30.0, OPEN),
        # A busy laptop would have been late for its gateway as well.
        (Phase.BEFORE, 0.3, BELOW),
    ],
)
def test_a_busy_laptop_accounts_for_idle_delay_only_where_it_is_late_itself(
    phase, near_ms, expected
):
    late = visit(gateway(rtt_ms=near_ms), server(rtt_ms=60.0))
    found = judge(late, conditions=(calm(phase, cpu_ratio=0.99),))
    assert criterion(found, "server-delay-median").outcome is expected


@pytest.mark.parametrize(
    ("gateway_rise_ms", "expected"), [(0.0, BELOW), (150.0, OPEN)], ids=["even", "late"]
)
def test_a_busy_laptop_accounts_for_a_rise_only_where_the_gateway_rises_too(
    gateway_rise_ms, expected
):
    loaded = {m.role: m for m in filled(Direction.DOWN, Role.FIRST_HOP, 400.0)}
    near = filled(Direction.DOWN, Role.GATEWAY, gateway_rise_ms, roles=(Role.GATEWAY,))
    busy = visit(*(loaded | {m.role: m for m in near}).values())
    found = judge(busy, conditions=(calm(Phase.DURING, cpu_ratio=0.99),))
    assert criterion(found, "server-delay-rise-down").outcome is expected
