"""A STAMP series under a key, against the server's own reflector logic on a manual clock."""

import pytest

from agent.clock import ManualClock, Timeline
from agent.codec.stamp import decode_sender
from agent.codec.stamp_authenticated import decode_authenticated_sender, is_authentic
from agent.measurements import EchoOutcome, Role, StampClock, State
from agent.ports.datagram import Received, Sent
from agent.ports.running import Unattended
from agent.ports.scripted_datagram import ScriptedSocket
from agent.probes.delay import measure_delay
from agent.server.options import ReflectorLimits
from agent.server.reflection import Arrival, reply_to
from agent.server.sessions import SessionBook
from agent.settings.model import EchoPlan

HERE, SERVER = "203.0.113.7", "198.51.100.10"
PLAN = EchoPlan(count=6, interval_s=0.01, waiting_s=0.5)


class Reflector:
    """The server's reflector at the far end of a line of 20 ms; `spoil` changes its answers."""

    def __init__(self, *, authenticated=True, lost=(), lost_back=(), spoil=lambda answer: [answer]):
        self.book = SessionBook(ReflectorLimits(), port=862)
        self.grant = self.book.open(HERE, HERE, 0.0, authenticated=authenticated)
        self.lost, self.lost_back, self.spoil = lost, lost_back, spoil

    def __call__(self, out):
        yield Sent(index=out.index, at_s=out.at_s)
        number = decode_sender(out.payload).sequence
        if number in self.lost:
            return
        arrival = Arrival(data=out.payload, address=HERE, at_ns=0, hop_limit=60)
        reply = reply_to(arrival, self.book, out.at_s)
        if reply is None or number in self.lost_back:
            return
        for place, answer in enumerate(self.spoil(bytes(reply.stamped(1)))):
            at_s = out.at_s + 0.02 + place * 0.001
            clock = StampClock.KERNEL
            yield Received(payload=answer, at_s=at_s, clock=clock, source=SERVER)


def measure(reflector, plan=PLAN, *, key="granted"):
    clock = ManualClock(now_s=100.0)
    socket = ScriptedSocket(clock, reflector)
    measured = measure_delay(
        socket,
        plan,
        timeline=Timeline(clock, 90.0),
        role=Role.SERVER,
        method="stamp",
        address=SERVER,
        family=4,
        ssid=reflector.grant.ssid,
        key=reflector.grant.secret if key == "granted" else key,
        within_s=30.0,
        running=Unattended(),
    )
    return measured, socket


def test_every_packet_is_under_the_key_and_the_record_says_so():
    reflector = Reflector()
    measured, socket = measure(reflector)
    assert measured.state is State.COMPLETE
    assert measured.method == "stamp"
    assert measured.observed.authenticated is True
    assert measured.observed.payload_bytes == 112
    assert set(measured.observed.outcome) == {EchoOutcome.ANSWERED}
    assert {len(out.payload) for out in socket.sent} == {112}
    key = reflector.grant.secret
    sent = [decode_authenticated_sender(out.payload, key).sequence for out in socket.sent]
    assert sent == list(range(6))


def test_longer_probes_stay_as_long_as_the_plan_wants():
    plan = PLAN.model_copy(update={"payload_bytes": 300})
    measured, socket = measure(Reflector(), plan)
    assert measured.observed.payload_bytes == 300
    assert {len(out.payload) for out in socket.sent} == {300}
    assert set(measured.observed.outcome) == {EchoOutcome.ANSWERED}


def test_without_a_key_the_record_says_that_too():
    measured, socket = measure(Reflector(authenticated=False))
    assert measured.observed.authenticated is False
    assert {len(out.payload) for out in socket.sent} == {44}


def test_a_wrong_key_gets_no_answer_and_none_is_invented():
    reflector = Reflector()
    measured, socket = measure(reflector, key=bytes(32))
    assert set(measured.observed.outcome) == {EchoOutcome.LOST}
    report = reflector.book.tally(reflector.grant.session, 0.0).report()
    assert (report.received, report.unverified) == (0, len(socket.sent))


def flipped(answer, at):
    changed = bytearray(answer)
    changed[at] ^= 1
    return bytes(changed)


@pytest.mark.parametrize("at", [0, 17, 33, 51, 67, 80, 111], ids=lambda at: f"octet {at}")
def test_a_changed_answer_is_none(at):
    measured, _ = measure(Reflector(spoil=lambda answer: [flipped(answer, at)]))
    assert set(measured.observed.outcome) == {EchoOutcome.LOST}
    assert measured.reason.code == "bad-reply"


def test_a_replayed_answer_is_a_copy_and_changes_nothing_else():
    measured, _ = measure(Reflector(spoil=lambda answer: [answer, answer]))
    series = measured.observed
    # The series ends with the first answer to its last probe: a copy of that is not waited for.
    assert series.copies == (2, 2, 2, 2, 2, 1)
    assert series.rtt_ms == pytest.approx((20.0,) * 6, abs=1e-4)
    assert series.far_arrivals == 6


def test_answers_of_another_session_are_none():
    other = Reflector()
    kept = []

    def swap(answer):
        kept.append(answer)
        return []

    measure(Reflector(spoil=swap))
    others = iter(kept * 2)
    measured, _ = measure(Reflector(spoil=lambda _answer: [next(others)]))
    assert set(measured.observed.outcome) == {EchoOutcome.LOST}
    assert not is_authentic(kept[0], other.grant.secret)


def test_losses_of_either_way_are_told_apart_to_the_last_probe_without_a_log():
    # 1 and 5 on the way there, 3 on the way back; the probe that closes the series has number 6.
    measured, socket = measure(Reflector(lost={1, 5}, lost_back={3}))
    series = measured.observed
    assert series.far_received == (True, False, True, True, True, False)
    assert series.far_count == (0, None, 1, None, 3, None)
    assert series.far_arrivals == 4
    assert len(series.outcome) == 6
    assert len(socket.sent) == 7


def test_answers_all_lost_on_the_way_back_are_told_even_so():
    measured, _ = measure(Reflector(lost_back={0, 1, 2, 3, 4, 5}))
    assert measured.observed.far_received == (True,) * 6
    assert measured.observed.far_arrivals == 6
