"""A way that goes away for moments, and a cable that loses long frames."""

from dataclasses import replace

import pytest
from visits import AT, calm, down, filled, judge, link, timed, visit

from agent.measurements import Direction, Phase, Role
from agent.settings.model import PluggedInto

LONG = 1_400


def told(*changes, conditions=None):
    found = judge(visit(*changes), conditions=conditions, plugged_into=PluggedInto.ROUTER)
    return [(f.code, f.segment.value) for f in found.diagnosis.findings]


def series(role, dark=(), count=200):
    """A series that is silent in the given ranges of probes, 20 ms apart."""
    silent = {i for begin, end in dark for i in range(begin, end)}
    rtt_ms = [None if i in silent else AT[role][1] for i in range(count)]
    return timed(role, AT[role][0], rtt_ms, id=f"delay-{role.value}")


@pytest.mark.parametrize(
    ("gateway", "first_hop", "server", "expected"),
    [
        ((), ((50, 90),), ((50, 90),), [("line-drops", "access")]),
        ((), (), ((50, 90),), [("line-drops", "operator")]),
        # Too short for a line that went away: the finding is one of loss.
        ((), ((50, 54),), ((50, 54),), None),
    ],
    ids=["line", "past the line", "short"],
)
def test_the_nearest_far_end_that_falls_silent_places_the_gap(gateway, first_hop, server, expected):
    found = told(
        series(Role.GATEWAY, gateway),
        series(Role.FIRST_HOP, first_hop),
        series(Role.SERVER, server),
    )
    if expected is None:
        assert "line-drops" not in [code for code, _ in found]
    else:
        assert found == expected


def test_a_gap_past_the_line_is_the_operators_to_mend():
    near = [series(role) for role in (Role.GATEWAY, Role.FIRST_HOP)]
    gap = series(Role.SERVER, ((50, 90),))
    found = judge(visit(*near, gap), plugged_into=PluggedInto.ROUTER).diagnosis
    assert [f.next_step for f in found.findings] == ["refer-to-operator"]


def test_a_gap_that_the_gateway_shares_is_not_the_lines():
    gap = ((50, 90),)
    every = [series(role, gap) for role in (Role.GATEWAY, Role.FIRST_HOP, Role.SERVER)]
    assert "line-drops" not in [code for code, _ in told(*every)]


def counted(*changes):
    """Conditions of one phase after the other with counts of link changes."""
    return tuple(
        replace(calm(phase), carrier_changes=count)
        for phase, count in zip(Phase, changes, strict=False)
    )


@pytest.mark.parametrize(
    ("first", "later", "flaps"),
    [
        (3, (3, 3, 3), False),
        (3, (3, 5, 5), True),
        (None, (3, None, 7), True),
        # An odd change is a link that has only just come up.
        (3, (4, 4, 4), False),
        (None, (None, None, None), False),
    ],
)
def test_a_link_that_came_and_went_is_told_by_its_count(first, later, flaps):
    found = told(link(carrier_changes=first), conditions=counted(*later))
    assert (("port-flaps", "home") in found) is flaps


def long_series(lost, count=100):
    rtt_ms = [None] * lost + [0.4] * (count - lost)
    return timed(Role.GATEWAY, AT[Role.GATEWAY][0], rtt_ms, payload_bytes=LONG)


@pytest.mark.parametrize(("lost", "said"), [(0, False), (1, False), (20, True), (100, False)])
def test_long_packets_that_a_cable_loses_while_short_ones_pass(lost, said):
    """A gateway that answers no long probe at all may simply refuse them."""
    found = told(long_series(lost))
    assert (("long-frames-lost", "home") in found) is said


def test_a_cable_that_loses_short_probes_as_well_is_told_by_them():
    short = timed(
        Role.GATEWAY,
        AT[Role.GATEWAY][0],
        [None if i % 5 == 0 else 0.3 for i in range(200)],
        id="delay-gateway",
    )
    assert "long-frames-lost" not in [code for code, _ in told(long_series(20), short)]


def busy(lost, rise_ms=0.2):
    """The gateway beside a full download: some lost, its delay risen or not."""
    rtt_ms = [None] * lost + [AT[Role.GATEWAY][1] + rise_ms] * (200 - lost)
    return timed(Role.GATEWAY, AT[Role.GATEWAY][0], rtt_ms, load="down")


@pytest.mark.parametrize(
    ("series", "said"),
    [
        (busy(0), False),
        (busy(1), False),
        (busy(60), True),
        # A queue that overflows loses some too, and is seen by its delay.
        (busy(8, rise_ms=40.0), False),
        (busy(60, rise_ms=40.0), True),
    ],
)
def test_loss_to_the_gateway_that_begins_with_the_load(series, said):
    rest = [m for m in filled(Direction.DOWN, None) if m.role is not Role.GATEWAY]
    found = told(series, *rest, down(40e6), down(40e6, id="throughput-again"))
    assert (("cable-loses-when-busy", "home") in found) is said
