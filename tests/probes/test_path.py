import pytest

from agent.clock import ManualClock, Timeline
from agent.codec.checksum import ones_sum
from agent.errors import NoRoute
from agent.measurements import StampClock, State
from agent.ports.datagram import Failed, Received, Sent
from agent.ports.running import Unattended
from agent.ports.scripted_datagram import ScriptedSocket
from agent.probes.path import walk_path
from agent.settings.model import PathPlan

K = StampClock.KERNEL
TARGET = "198.51.100.10"


def router(distance):
    return f"203.0.113.{distance}"


class Route:
    """A row of routers; some silent, some quoting little, the target at `length`."""

    def __init__(self, length=12, silent=(), short=(), late=()):
        self.length, self.silent, self.short, self.late = length, silent, short, late

    def __call__(self, out):
        yield Sent(index=out.index, at_s=out.at_s)
        if out.hop_limit in self.silent:
            return
        distance = min(out.hop_limit, self.length)
        arrived = distance == self.length
        delay_s = 0.002 * distance + (0.3 if distance in self.late else 0.0)
        yield Failed(
            icmp_type=3 if arrived else 11,
            icmp_code=3 if arrived else 0,
            at_s=out.at_s + delay_s,
            clock=K,
            source=TARGET if arrived else router(distance),
            quoted=b"" if distance in self.short else out.payload,
        )


def walk(route, plan=None, **kwargs):
    clock = ManualClock(now_s=50.0)
    socket = ScriptedSocket(clock, route)
    asked = {
        "timeline": Timeline(clock, 40.0),
        "target": TARGET,
        "family": 4,
        "within_s": 5.0,
        "running": Unattended(),
    }
    return walk_path(socket, plan or PathPlan(), **asked | kwargs), socket


def by_distance(measured):
    found = {}
    for distance, source in zip(
        measured.observed.distance, measured.observed.answered_by, strict=True
    ):
        found.setdefault(distance, set()).add(source)
    return found


def test_twelve_hops_of_which_four_are_silent_in_two_seconds():
    silent = (2, 5, 6, 9)
    measured, _ = walk(Route(12, silent))
    hops = by_distance(measured)
    assert measured.state is State.COMPLETE
    assert measured.duration_s <= 2.0
    for distance in range(1, 12):
        assert hops[distance] == ({None} if distance in silent else {router(distance)})
    assert hops[12] == {TARGET}


def test_every_answer_is_credited_to_its_own_attempt():
    measured, _ = walk(Route(6, late=(3,)))
    observed = measured.observed
    for distance, source, rtt_ms in zip(
        observed.distance, observed.answered_by, observed.rtt_ms, strict=True
    ):
        expected = min(distance, 6) * 2.0 + (300.0 if distance == 3 else 0.0)
        assert rtt_ms == pytest.approx(expected, abs=1e-3)
        assert source == (TARGET if distance >= 6 else router(distance))
    assert measured.clock is K


def test_all_probes_belong_to_one_flow():
    # RFC 9198: parallel paths are chosen by what the probes have in common.
    _, socket = walk(Route(12, silent=(4,)))
    assert {ones_sum(out.payload) for out in socket.sent} == {0xFFFF}
    assert len({out.payload for out in socket.sent}) == len(socket.sent)
    assert len({len(out.payload) for out in socket.sent}) == 1


def test_short_quotes_are_counted_and_never_guessed():
    # RFC 792 asks for 64 bits of the datagram only: the UDP header, none of the payload.
    measured, _ = walk(Route(4, short=(2,)))
    assert by_distance(measured)[2] == {None}
    assert measured.observed.unplaced == ((router(2), 3),)


def test_a_short_quote_is_placed_where_one_attempt_is_under_way():
    measured, _ = walk(Route(1, short=(1,)), PathPlan(max_distance=1, attempts=3))
    assert by_distance(measured)[1] == {TARGET}
    assert measured.observed.unplaced == ()


def test_a_silent_target_is_a_complete_walk():
    measured, _ = walk(Route(12, silent=range(5, 31)))
    assert measured.state is State.COMPLETE
    assert measured.duration_s <= 2.0
    assert set(by_distance(measured)[20]) == {None}


def test_a_service_on_the_port_ends_the_walk_as_the_target():
    def route(out):
        if out.hop_limit >= 3:
            yield Received(payload=out.payload, at_s=out.at_s + 0.005, clock=K, source=TARGET)

    measured, _ = walk(route)
    assert by_distance(measured)[3] == {TARGET}
    later = zip(measured.observed.distance, measured.observed.attempt, strict=True)
    assert max(distance for distance, attempt in later if attempt) <= 3


def test_answers_with_a_foreign_mark_are_not_credited():
    _, earlier = walk(Route(3))

    def replay(out):
        old = earlier.sent[out.index % len(earlier.sent)].payload
        yield Failed(
            icmp_type=11, icmp_code=0, at_s=out.at_s, clock=K, source=router(1), quoted=old
        )

    measured, _ = walk(replay)
    assert set(measured.observed.answered_by) == {None}
    assert measured.observed.unplaced == ((router(1), 60),)


def test_no_route_fails_with_its_reason():
    def gone(out):
        raise NoRoute(address=TARGET)

    measured, _ = walk(gone)
    assert (measured.state, measured.reason.code) == (State.FAILED, "no-route")
    assert measured.observed is None


def test_time_cuts_a_walk_and_keeps_what_came():
    measured, _ = walk(Route(12, silent=(2,)), within_s=0.2)
    assert (measured.state, measured.reason.code) == (State.PARTIAL, "time-limit")
    hops = by_distance(measured)
    assert hops[1] == {router(1)}
    assert 2 not in hops
