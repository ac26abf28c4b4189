"""Where a queue stands, by which far ends are reached later while a direction is filled."""

from dataclasses import replace

import pytest
from visits import (
    STILL,
    at_random,
    down,
    drains,
    filled,
    first_hop,
    gateway,
    idle,
    judge,
    modem,
    server,
    up,
    visit,
)

from agent.assessment.evidence import Evidence
from agent.assessment.model import Limiting
from agent.assessment.queues import FLAT_MS, idle_queue_ms, queue_of
from agent.measurements import Direction, Role, TcpCounters
from agent.settings.model import PluggedInto
from agent.stats.summary import summarise

DOWN, UP = Direction.DOWN, Direction.UP


def evidence(*changes):
    idle = {m.id: m for m in (gateway(), modem(), first_hop(), server())}
    measurements = (idle | {m.id: m for m in changes}).values()
    return Evidence.of(tuple(measurements), {m.id: summarise(m) for m in measurements})


@pytest.mark.parametrize(
    ("risen_from", "before"),
    [
        (Role.GATEWAY, None),
        (Role.MODEM, Role.GATEWAY),
        (Role.FIRST_HOP, Role.MODEM),
        (Role.SERVER, Role.FIRST_HOP),
    ],
)
@pytest.mark.parametrize("direction", [DOWN, UP])
def test_the_queue_stands_before_the_first_far_end_that_is_reached_later(
    risen_from, before, direction
):
    found = queue_of(evidence(*filled(direction, risen_from)), direction)
    assert (found.behind, found.before, found.direction) == (risen_from, before, direction)
    assert found.rise_ms == pytest.approx(30.0, abs=1.0)
    other = UP if direction is DOWN else DOWN
    assert queue_of(evidence(*filled(direction, risen_from)), other) is None


def test_who_was_not_timed_leaves_the_place_open():
    roles = (Role.GATEWAY, Role.SERVER)
    found = queue_of(evidence(*filled(DOWN, Role.FIRST_HOP, roles=roles)), DOWN)
    assert (found.behind, found.before) == (Role.SERVER, Role.GATEWAY)


@pytest.mark.parametrize("rise_ms", [0.5, 2.9, 3.1, 30.0, 500.0])
@pytest.mark.parametrize("scale", [1.0, 1.5, 4.0])
def test_a_deeper_queue_is_never_placed_elsewhere(rise_ms, scale):
    """What rises more at every far end behind a queue says the same of its place."""
    first = queue_of(evidence(*filled(DOWN, Role.FIRST_HOP, rise_ms)), DOWN)
    deeper = queue_of(evidence(*filled(DOWN, Role.FIRST_HOP, rise_ms * scale)), DOWN)
    assert first is None or (deeper.behind, deeper.before) == (first.behind, first.before)


@pytest.mark.parametrize(
    ("series", "down", "up"),
    [
        (idle(STILL, STILL), False, False),
        (idle(STILL, drains(800, 20.0, 25)), True, False),
        (idle(drains(800, 20.0, 25), STILL), False, True),
        # Grants of a shared medium come at random (common practice, no source).
        (idle(at_random(800, 20.0), STILL), False, False),
        # Both ways at once is how a noisy line repairs, not how a download queues.
        (idle(drains(800, 20.0, 25), drains(800, 20.0, 25)), False, False),
        # The first hop is reached evenly: the queue is past the line, other customers'.
        (idle(STILL, drains(800, 20.0, 25), first_hop=False), False, False),
    ],
    ids=["still", "down", "up", "grants", "both", "past the line"],
)
def test_a_queue_on_the_idle_line_is_somebody_elses(series, down, up):
    seen = evidence(*series)
    assert (idle_queue_ms(seen, DOWN) is not None) is down
    assert (idle_queue_ms(seen, UP) is not None) is up


def limiter(*changes, plugged_into=PluggedInto.ROUTER):
    found = judge(visit(*changes), plugged_into=plugged_into).assessment.limiters
    return next(one for one in found if one.direction is DOWN)


@pytest.mark.parametrize(
    ("risen_from", "limiting"),
    [
        (Role.GATEWAY, Limiting.HOME),
        (Role.MODEM, Limiting.HOME),
        (Role.FIRST_HOP, Limiting.LINE),
        (Role.SERVER, Limiting.NETWORK),
    ],
)
def test_the_place_of_the_queue_says_who_holds_the_rate(risen_from, limiting):
    assert limiter(*filled(DOWN, risen_from)).limiter is limiting


def test_at_the_modem_the_gateway_is_the_lines_far_end():
    series = filled(DOWN, Role.GATEWAY, roles=(Role.GATEWAY, Role.SERVER))
    assert limiter(*series, plugged_into=PluggedInto.MODEM).limiter is Limiting.LINE
    beyond = filled(DOWN, Role.SERVER, roles=(Role.GATEWAY, Role.SERVER))
    assert limiter(*beyond, plugged_into=PluggedInto.MODEM).limiter is Limiting.NETWORK


def test_no_queue_on_the_line_and_nothing_lost_holds_the_rate_past_it():
    flat = filled(DOWN, None, FLAT_MS / 2)
    assert limiter(*flat, down(50e6, alone=1.0)).limiter is Limiting.NETWORK
    # A window or losses hold each flow, so that one of six has a sixth.
    assert limiter(*flat, down(50e6, alone=1 / 6)).limiter is Limiting.LINE
    # A line that polices its rate has no queue either, but loses packets.
    policed = filled(DOWN, None, FLAT_MS / 2, lost=4)
    assert limiter(*policed, down(50e6, alone=1.0)).limiter is Limiting.LINE


def test_an_upload_that_repeats_what_no_probe_lost_speaks_of_long_packets():
    flat, moved = filled(DOWN, None, FLAT_MS / 2), down(50e6, alone=1.0)
    sound, lossy = sent_again(0.001), sent_again(0.08)
    assert limiter(*flat, moved, sound).limiter is Limiting.NETWORK
    assert limiter(*flat, moved, lossy).limiter is Limiting.LINE


def sent_again(share):
    """An upload of which this share of octets was sent twice."""
    sent = 10_000_000
    counters = TcpCounters(at_s=6.0, bytes_sent=sent, bytes_retransmitted=round(share * sent))
    moved = up()
    return replace(moved, observed=replace(moved.observed, tcp=(counters,)))


def test_an_upload_without_a_queue_may_be_held_by_the_laptops_own_port():
    series = filled(UP, None, FLAT_MS / 2)
    found = judge(visit(*series), plugged_into=PluggedInto.ROUTER).assessment.limiters
    own = next(one for one in found if one.direction is UP)
    assert own.limiter is Limiting.LINE
    assert own.confidence < 0.5


def test_another_device_on_the_line_holds_the_rate_where_its_queue_stood_before():
    busy = (*idle(STILL, drains(800, 20.0, 25)), *filled(DOWN, Role.FIRST_HOP))
    assert limiter(*busy).limiter is Limiting.HOUSEHOLD
