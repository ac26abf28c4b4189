"""The whole table of fitness: every fact against a missed and a passed criterion."""

from dataclasses import dataclass, field, replace

import pytest
from visits import (
    calm,
    criterion,
    dead_page,
    down,
    first_hop,
    gateway,
    judge,
    link,
    modem,
    server,
    settings,
    visit,
)

from agent.assessment.model import Verdict
from agent.measurements import LaptopCheck, Medium, Phase
from agent.settings.model import Fitness, PluggedInto

MEETS, BELOW, OPEN = Verdict.MEETS, Verdict.BELOW, Verdict.NOT_PROVEN
SLOW = (down(50e6),)
UNREACHED = (dead_page("one"), dead_page("two"))
CHECK = LaptopCheck(
    device_id="a1",
    checked="2026-02-01T08:00:00Z",
    interface="lan0",
    medium=Medium.WIRED,
    speed_bps=1_000_000_000,
    down_bps=60e6,
    up_bps=900e6,
    age_days=29.0,
)


@dataclass(frozen=True, kw_only=True)
class Row:
    """How a fact is provoked, what is missed, and what becomes of a miss and of a pass."""

    reading: dict = field(default_factory=dict)
    changes: tuple = ()
    stated: dict = field(default_factory=dict)
    name: str = "throughput-down"
    missed: tuple = SLOW
    of_miss: Verdict = OPEN
    of_pass: Verdict = MEETS
    reason: str = "unfit"


LATE = (gateway(rtt_ms=4.0), modem(rtt_ms=4.4), first_hop(rtt_ms=9.0), server(rtt_ms=13.0))
"""Four milliseconds on a cable's length, and everybody beyond later still."""

TABLE = {
    "wireless": Row(reading={"medium": Medium.WIRELESS}),
    "half_duplex": Row(reading={"duplex": "half"}),
    "tunnel": Row(reading={"tunnel": "tun0"}, of_pass=OPEN, reason="tunnel"),
    "another_line": Row(
        reading={"tested_line": False, "egress": "wl0"}, of_pass=OPEN, reason="another-line"
    ),
    "other_traffic": Row(reading={"other_traffic_bps": 40e6}),
    "processor_busy": Row(reading={"cpu_ratio": 0.99}),
    "on_battery": Row(reading={"on_battery": True}, of_miss=BELOW),
    "port_ceiling": Row(
        changes=(link(speed_bps=10_000_000),), missed=(down(9e6),), reason="port-ceiling"
    ),
    "others_on": Row(stated={"nothing_else_on": False}, reason="others-on"),
    "clock_offset": Row(
        reading={"clock_offset_ms": -7.2e6},
        name="web-reached",
        missed=UNREACHED,
    ),
    "unverified_system": Row(reading={"unverified_system": "Windows"}),
    "power_saver": Row(reading={"power_saver": "low-power"}),
    "memory_low": Row(reading={"memory_free_ratio": 0.02}),
    "usb_bus": Row(changes=(link(bus_bps=12_000_000),)),
    "hidden_hop": Row(changes=LATE, stated={"plugged_into": PluggedInto.ROUTER}),
    "laptop_check": Row(stated={"laptop_check": CHECK}),
    "virtual_machine": Row(reading={"virtual_machine": True}, of_miss=BELOW),
}


def judged(row, *missed):
    conditions = (calm(), calm(Phase.AFTER, **row.reading))
    return judge(visit(*row.changes, *missed), conditions=conditions, **row.stated)


def test_the_table_has_every_fact():
    assert set(TABLE) == set(Fitness.model_fields)


@pytest.mark.parametrize("name", sorted(TABLE))
def test_what_becomes_of_a_missed_criterion(name):
    row = TABLE[name]
    assert criterion(judge(visit(*row.missed)), row.name).outcome is BELOW, "missed without it"
    found = judged(row, *row.missed)
    about = criterion(found, row.name)
    assert name in [fact.name for fact in found.assessment.fitness]
    assert about.outcome is row.of_miss
    if row.of_miss is OPEN:
        assert about.reason.code == row.reason
        assert found.assessment.verdict is OPEN
        told = about.reason.values.get("fact", name)
        assert told == name


@pytest.mark.parametrize("name", sorted(TABLE))
def test_what_becomes_of_a_passed_criterion(name):
    row = TABLE[name]
    passed = () if name != "port_ceiling" else (down(104e6),)
    found = judged(row, *passed)
    assert name in [fact.name for fact in found.assessment.fitness]
    assert criterion(found, row.name).outcome is row.of_pass
    assert found.assessment.verdict is row.of_pass


@pytest.mark.parametrize("name", sorted(TABLE))
def test_a_calm_laptop_shows_none_of_it(name):
    assert name not in [fact.name for fact in judge(visit()).assessment.fitness]


@pytest.mark.parametrize("name", sorted(TABLE))
def test_every_fact_has_its_rule_with_a_source(name):
    rule = getattr(settings().fitness, name)
    assert rule.source
    assert (rule.threshold is None) == (rule.unit == "none")


def facts(*changes, **stated):
    stated = {"plugged_into": PluggedInto.ROUTER, **stated}
    found = judge(visit(*changes), **stated).assessment.fitness
    return {fact.name: fact for fact in found}


@pytest.mark.parametrize(
    ("changes", "stated", "hidden"),
    [
        (LATE, {}, True),
        # A gateway that answers late and forwards at once: the modem behind it is sooner.
        ((gateway(rtt_ms=9.0),), {}, False),
        # A modem beside the gateway is as late as that.
        ((*LATE, modem(rtt_ms=4.0)), {}, True),
        # Bridged: the gateway is the operator's, and far (field practice, no source).
        (LATE, {"plugged_into": PluggedInto.MODEM}, False),
        (LATE, {"plugged_into": PluggedInto.UNKNOWN}, False),
        ((*LATE, link(medium=Medium.WIRELESS)), {}, False),
        ((gateway(rtt_ms=2.4), *LATE[1:]), {}, False),
        # Lost before the gateway, as far as everybody beyond tells.
        ((gateway(up=8), modem(up=8), first_hop(up=8), server(up=32)), {}, True),
        # Clean to the gateway, and one probe lost by chance on the way to it.
        ((gateway(), modem(up=8), first_hop(up=8), server(up=32)), {}, False),
        ((gateway(up=1), modem(up=8), first_hop(up=8), server(up=32)), {}, False),
        # A gateway that drops its own answers and passes everything on.
        ((gateway(up=8),), {}, False),
    ],
)
def test_a_hop_that_nobody_named(changes, stated, hidden):
    assert ("hidden_hop" in facts(*changes, **stated)) is hidden


@pytest.mark.parametrize("address", ["192.168.1.1", "10.0.0.1", "172.16.9.1", "fd00::1"])
def test_a_gateway_with_a_homes_address_is_at_home(address):
    """RFC 1918 §3 and RFC 4193 §3.1, where nobody said what the laptop is plugged into."""
    late = (replace(LATE[0], address=address), *LATE[1:])
    assert "hidden_hop" in facts(*late, plugged_into=PluggedInto.UNKNOWN)


def test_loss_in_the_home_fails_no_line():
    lossy = (gateway(up=8), modem(up=8), first_hop(up=8), server(up=32))
    found = judge(visit(*lossy), plugged_into=PluggedInto.ROUTER)
    assert criterion(found, "server-loss-up").outcome is OPEN
    assert criterion(found, "gateway-loss").outcome is BELOW
    assert found.assessment.verdict is OPEN


def test_a_bus_counts_only_against_the_direction_it_cannot_carry():
    """Of 12 Mbit/s no 20 upwards; of 60 Mbit/s 36 are counted on: enough upwards, too few down."""
    slow_up = judge(visit(link(bus_bps=60_000_000), *SLOW))
    assert criterion(slow_up, "throughput-down").outcome is OPEN
    assert criterion(slow_up, "throughput-up").outcome is MEETS
    fact = facts(link(bus_bps=60_000_000))["usb_bus"]
    assert (fact.measured, fact.unit) == (60_000_000, "bps")
    # 100 Mbit/s of IP, 90 % accepted on cable, of 1500 octets 1448 payload (RFC 6349 arithmetic).
    assert fact.threshold == pytest.approx(90e6 * 1448 / 1500)


@pytest.mark.parametrize(
    "other", [{"interface": "eth9"}, {"speed_bps": 100_000_000}, {"bus_bps": 480_000_000}]
)
def test_a_check_of_another_adapter_says_nothing(other):
    told = replace(CHECK, **other)
    found = judge(visit(*SLOW), laptop_check=told)
    assert criterion(found, "throughput-down").outcome is BELOW
    assert not found.assessment.fitness


def test_a_check_of_one_direction_says_nothing_of_the_other():
    told = replace(CHECK, down_bps=None)
    assert criterion(judge(visit(*SLOW), laptop_check=told), "throughput-down").outcome is BELOW


def test_a_wrong_clock_spoils_pages_and_no_other_reach():
    late = calm(clock_offset_ms=7.2e6)
    silent = visit(*UNREACHED)
    found = judge(silent, conditions=(late,))
    assert criterion(found, "web-reached").outcome is OPEN


def test_the_phases_in_which_a_fact_held_are_all_told():
    busy = [calm(phase, cpu_ratio=0.99) for phase in (Phase.BEFORE, Phase.DURING, Phase.AFTER)]
    (fact,) = judge(visit(), conditions=tuple(busy)).assessment.fitness
    assert (fact.phase, fact.phases) == ("before", ("before", "during", "after"))
