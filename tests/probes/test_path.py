import pytest

from agent.clock import ManualClock, Timeline
from agent.codec.checksum import ones_sum
from agent.errors import NoRoute
from agent.measurements import StampClock, State
from agent.ports.datagram import Failed, Received, Sent
from agent.ports.running import Unattended
from agent.ports.scripted_datagram import ScriptedSocket, ScriptedWait
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
        "wait": ScriptedWait(clock),
        "timeline": Timeline(clock, 40.0),
        "target": TARGET,
        "family": 4,
        "within_s": 5.0,
        "running": Unattended(),
    }
    return walk_path((socket,), plan or PathPlan(), **asked | kwargs), socket


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


def test_short_quotes_are_placed_by_lone_probes_and_never_guessed():
    # RFC 792 asks for 64 bits of the datagram only: the UDP header, none of the payload.
    measured, _ = walk(Route(12, silent=(3, 5, 8), short=(2, 9)))
    hops = by_distance(measured)
    assert measured.duration_s <= 2.0
    assert hops[2] == {None, router(2)}
    assert hops[9] == {None, router(9)}
    assert hops[5] == {None}
    assert measured.observed.unplaced == ((router(2), 3), (router(9), 3))


def test_a_target_that_quotes_little_is_reached():
    measured, _ = walk(Route(4, short=(4,)))
    assert by_distance(measured)[4] == {None, TARGET}
    assert max(by_distance(measured)) == 30


def test_a_silent_target_is_a_complete_walk():
    measured, _ = walk(Route(12, silent=range(5, 31)))
    assert measured.state is State.COMPLETE
    assert measured.duration_s <= 2.0
    assert set(by_distance(measured)[30]) == {None}


def test_a_service_on_the_port_ends_the_walk_as_the_target():
    def route(out):
        if out.hop_limit >= 3:
            yield Received(payload=out.payload, at_s=out.at_s + 0.005, clock=K, source=TARGET)

    measured, _ = walk(route)
    assert by_distance(measured)[3] == {TARGET}
    later = zip(measured.observed.distance, measured.observed.attempt, strict=True)
    assert max(distance for distance, attempt in later if attempt) <= 3


def test_a_walk_of_echo_says_so_and_ends_at_the_answer_of_the_target():
    """An echo socket hands over what the target answered, from the target (RFC 792)."""

    class EchoSocket(ScriptedSocket):
        protocol = "icmp"

    def route(out):
        arrived = out.hop_limit >= 3
        common = {"at_s": out.at_s + 0.01, "clock": K}
        if arrived:
            yield Received(payload=out.payload, source=TARGET, **common)
        else:
            source = router(out.hop_limit)
            yield Failed(icmp_type=11, icmp_code=0, source=source, quoted=out.payload, **common)

    clock = ManualClock(now_s=50.0)
    measured = walk_path(
        (EchoSocket(clock, route),),
        PathPlan(),
        wait=ScriptedWait(clock),
        timeline=Timeline(clock, 40.0),
        target=TARGET,
        family=4,
        within_s=5.0,
        running=Unattended(),
    )
    hops = by_distance(measured)
    assert (measured.method, measured.observed.protocol) == ("icmp", "icmp")
    assert (hops[1], hops[2], hops[3]) == ({router(1)}, {router(2)}, {TARGET})
    plain, _ = walk(Route(3))
    assert (plain.method, plain.observed.protocol) == ("udp", "udp")


def test_answers_with_a_foreign_mark_are_not_credited():
    _, earlier = walk(Route(3))

    def replay(out):
        old = earlier.sent[out.index % len(earlier.sent)].payload
        yield Failed(
            icmp_type=11, icmp_code=0, at_s=out.at_s, clock=K, source=router(1), quoted=old
        )

    measured, _ = walk(replay)
    assert set(measured.observed.answered_by) == {None}
    assert dict(measured.observed.unplaced).keys() == {router(1)}


class TwoWays:
    """Two ways of equal length between distances 2 and 5, told apart by flow."""

    def __init__(self, flow, length=6):
        self.flow, self.length = flow, length

    def __call__(self, out):
        yield Sent(index=out.index, at_s=out.at_s)
        distance = min(out.hop_limit, self.length)
        spread = 100 * self.flow if 3 <= distance <= 4 else 0
        arrived = distance == self.length
        yield Failed(
            icmp_type=3 if arrived else 11,
            icmp_code=3 if arrived else 0,
            at_s=out.at_s + 0.002 * distance,
            clock=K,
            source=TARGET if arrived else router(distance + spread),
            quoted=out.payload,
        )


def two_flows(routes, plan=None):
    clock = ManualClock(now_s=50.0)
    sockets = tuple(ScriptedSocket(clock, route) for route in routes)
    measured = walk_path(
        sockets,
        plan or PathPlan(),
        wait=ScriptedWait(clock),
        timeline=Timeline(clock, 40.0),
        target=TARGET,
        family=4,
        within_s=5.0,
        running=Unattended(),
    )
    return measured, sockets


def test_two_flows_are_kept_apart_whatever_comes_back_first():
    measured, sockets = two_flows((TwoWays(0), TwoWays(1)))
    seen = measured.observed
    rows = list(zip(seen.flow, seen.distance, seen.answered_by, strict=True))
    assert {source for flow, distance, source in rows if (flow, distance) == (0, 3)} == {router(3)}
    assert {source for flow, distance, source in rows if (flow, distance) == (1, 3)} == {
        router(103)
    }
    assert {flow for flow, _, _ in rows} == {0, 1}
    assert len(sockets[0].sent) + len(sockets[1].sent) >= len(rows)
    assert measured.clock is K
    for distance, rtt_ms in zip(seen.distance, seen.rtt_ms, strict=True):
        assert rtt_ms == pytest.approx(2.0 * min(distance, 6), abs=1e-3)


def test_one_flow_that_cannot_send_leaves_the_other():
    def gone(out):
        raise NoRoute(address=TARGET)

    measured, _ = two_flows((TwoWays(0), gone))
    assert measured.state is State.COMPLETE
    assert set(measured.observed.flow) == {0}


def test_labels_and_interfaces_are_kept_with_their_attempt():
    # RFC 4950 §3: label 100048; RFC 5837 §4.1: incoming interface, index 5.
    labels = bytes.fromhex("2000c588 00080101 186d0101")
    interface = bytes.fromhex("20000000 00080208 00000005")

    def route(out):
        distance = min(out.hop_limit, 4)
        yield Failed(
            icmp_type=3 if distance == 4 else 11,
            icmp_code=3 if distance == 4 else 0,
            at_s=out.at_s + 0.002,
            clock=K,
            source=TARGET if distance == 4 else router(distance),
            quoted=out.payload.ljust(100, b"\0") + (labels if distance == 2 else b""),
            extensions=interface if distance == 3 else b"",
        )

    seen = walk(route)[0].observed
    found = dict(zip(seen.distance, seen.extensions, strict=True))
    assert found[1] is None
    assert [(a.label, a.bottom, a.ttl) for a in found[2].labels] == [(100048, True, 1)]
    assert [(a.role, a.index) for a in found[3].interfaces] == [("incoming", 5)]


def test_a_second_answer_to_one_attempt_is_kept_beside_the_first():
    def route(out):
        for after_s, source in ((0.002, router(1)), (0.003, router(9))):
            yield Failed(
                icmp_type=11,
                icmp_code=0,
                at_s=out.at_s + after_s,
                clock=K,
                source=source,
                quoted=out.payload,
            )

    measured, _ = walk(route, PathPlan(max_distance=1, attempts=2))
    assert measured.observed.answered_by == (router(1), router(1))
    # The walk is over with the first answer to the last attempt.
    assert measured.observed.further == ((0, router(9)),)


def test_thirty_hops_of_which_ten_are_silent_in_two_seconds_over_two_flows():
    silent = tuple(range(3, 30, 3))
    measured, _ = two_flows((Route(30, silent), Route(30, silent)))
    assert measured.duration_s <= 2.0
    assert by_distance(measured)[30] == {TARGET}


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
