"""Delay past the line, on the line, and of a household."""

import pytest
from visits import (
    AT,
    EDGE,
    SERVER,
    STILL,
    down,
    drains,
    filled,
    idle,
    judge,
    path,
    timed,
    visit,
)

from agent.assessment.model import Verdict
from agent.measurements import Direction, Role
from agent.settings.model import PluggedInto


def told(*changes, **stated):
    stated = {"plugged_into": PluggedInto.ROUTER, **stated}
    return judge(visit(*changes), **stated)


def codes(found):
    return [f.code for f in found.diagnosis.findings]


def series(role, rtt_ms):
    return timed(role, AT[role][0], rtt_ms, id=f"delay-{role.value}")


def even(least_ms, count=200):
    return [least_ms + 0.1 * (i % 3) for i in range(count)]


def swinging(least_ms, deep_ms, count=200):
    return [least_ms + deep_ms * (i % 20) / 20 for i in range(count)]


@pytest.mark.parametrize(
    ("first_hop", "server", "expected"),
    [
        (even(4.0), even(8.0), []),
        (even(4.0), swinging(8.0, 20.0), ["operator-congested"]),
        # The line itself swings: what the server shows is that and no more.
        (swinging(4.0, 20.0), swinging(8.0, 20.0), ["delay-varies"]),
        (even(4.0), even(60.0), ["path-detour"]),
        (even(54.0), even(60.0), []),
        # It varies with what it adds: that is a queue and no way.
        (even(4.0), swinging(60.0, 60.0), ["operator-congested"]),
    ],
    ids=["sound", "congested", "noisy line", "detour", "far line", "deep queue"],
)
def test_where_delay_comes_from(first_hop, server, expected):
    found = told(series(Role.FIRST_HOP, first_hop), series(Role.SERVER, server))
    assert codes(found) == expected


def test_at_the_modem_the_gateway_is_the_lines_far_end():
    parts = visit(series(Role.GATEWAY, even(4.0)), series(Role.SERVER, even(60.0)))
    parts = tuple(m for m in parts if m.role not in (Role.FIRST_HOP, Role.MODEM))
    found = judge(parts, plugged_into=PluggedInto.MODEM)
    assert codes(found) == ["path-detour"]


def test_without_the_lines_far_end_nothing_is_said_of_what_is_past_it():
    parts = visit(series(Role.SERVER, even(60.0)), without=("delay-first-hop",))
    assert codes(judge(parts, plugged_into=PluggedInto.ROUTER)) == []


def test_a_detour_names_the_hop_where_it_begins():
    walk = path("192.0.2.1", EDGE, "198.51.100.9", SERVER)
    slow = (0.3, 4.0, 55.0, 56.0)
    observed = type(walk.observed)
    fields = {name: getattr(walk.observed, name) for name in walk.observed.__slots__}
    late = type(walk)(
        **{name: getattr(walk, name) for name in walk.__slots__}
        | {"observed": observed(**{**fields, "rtt_ms": slow})}
    )
    found = told(late, series(Role.SERVER, even(60.0)))
    (finding,) = found.diagnosis.findings
    assert finding.values["hop"] == "198.51.100.9"


BUSY = idle(STILL, drains(800, 20.0, 25))


def test_traffic_of_the_household_takes_the_verdict_off_the_line():
    """The technician says that nothing else is on; the line says otherwise."""
    missed = (down(50e6), down(50e6, id="throughput-again"))
    found = told(*missed, *BUSY, *filled(Direction.DOWN, Role.FIRST_HOP))
    assert found.assessment.verdict is Verdict.NOT_PROVEN
    first = found.diagnosis.findings[0]
    assert (first.code, first.segment.value) == ("household-traffic", "home")
    assert first.next_step == "stop-other-traffic"
    assert "slow-line" not in codes(found)


def test_traffic_of_the_household_is_told_where_nothing_was_missed_for_it():
    found = told(*BUSY)
    assert found.assessment.verdict is Verdict.MEETS
    assert codes(found) == ["household-traffic"]
    assert found.diagnosis.findings[0].confidence < 0.75
