"""The rows on ports: how the laptop is seen, what passes, nothing from the wire unbounded."""

from dataclasses import replace

from records import healthy

from agent.measurements import (
    Kind,
    Measurement,
    PortAttempt,
    PortStatistics,
    PortTarget,
    ReachLook,
    ReachOutcome,
    ReachStatistics,
    Role,
    Sighting,
    State,
    Transport,
)
from agent.record.model import Measured
from agent.record.typed import document_of, record_of
from agent.sheet.reach_rows import reach_rows
from agent.sheet.wording import LINE

TARGET = PortTarget(name="mail", transport=Transport.TCP, port=587, address="192.0.2.80")
ATTEMPT = PortAttempt(target=0, sent_s=0.1, outcome=ReachOutcome.SILENT, hop_limit=3)
LOOK = ReachLook(waiting_s=1.0, targets=(TARGET,), attempts=(ATTEMPT,))
FLOW = Sighting(
    transport=Transport.UDP,
    own_address="192.0.2.20",
    own_port=40_000,
    seen_address="203.0.113.77",
    seen_port=1024,
)


def record(**fields):
    measurement = Measurement(
        kind=Kind.REACH,
        role=Role.OUTSIDE,
        state=State.COMPLETE,
        method="ports",
        started_s=0.0,
        duration_s=0.1,
        observed=LOOK,
    )
    one = Measured(measurement=measurement, statistics=ReachStatistics(**fields))
    return replace(healthy(), measured=(one,))


def rows(**fields):
    return {pair.label: pair.value for pair in reach_rows(record(**fields))}


def ports(*outcomes, name="mail"):
    made = (
        PortStatistics(name=name, transport=Transport.TCP, port=587, outcome=outcome)
        for outcome in outcomes
    )
    return tuple(made)


def test_the_laptop_is_shown_as_it_is_seen_with_both_ports_of_a_flow():
    shown = rows(seen_addresses=("203.0.113.77",), sightings=(FLOW,))
    assert shown == {"Seen as": "203.0.113.77, UDP port 40000 as 1024"}


def test_ports_are_counted_and_those_that_differ_named():
    assert rows(ports=ports("open"), tried=1, as_wanted=1) == {"Ports": "1 of 1 as expected"}
    shown = rows(ports=ports("open", "filtered"), tried=2, as_wanted=1)
    assert shown == {"Ports": "1 of 2 as expected; not mail"}


def test_nothing_tried_is_no_row():
    assert rows() == {}
    assert reach_rows(replace(healthy(), measured=())) == []


def test_long_names_and_many_addresses_stay_on_one_line():
    many = tuple(f"2001:db8:{number:x}::{'f' * 4}" for number in range(200))
    said = rows(seen_addresses=many, ports=ports("filtered", name="W" * 80), tried=1)
    assert all(len(value) <= LINE for value in said.values())


def test_attempts_and_figures_come_back_from_the_record_as_they_were():
    held = record(ports=ports("filtered"), tried=1, sightings=(FLOW,))
    assert record_of(document_of(held), "record").measured == held.measured
