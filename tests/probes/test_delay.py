import pytest

from agent.clock import ManualClock, Timeline
from agent.codec.stamp import (
    ErrorEstimate,
    ReflectorPacket,
    decode_sender,
    encode_reflector,
    ntp_from_unix_ns,
    unix_ns_from_ntp,
)
from agent.errors import NoRoute, TimedOut
from agent.measurements import EchoOutcome, Role, StampClock, State
from agent.ports.datagram import Failed, Received, Sent
from agent.ports.running import Unattended
from agent.ports.scripted_datagram import ScriptedSocket
from agent.probes.delay import measure_delay
from agent.schedules.far import FarReport
from agent.settings.model import EchoPlan

PLAN = EchoPlan(count=10, interval_s=0.01, waiting_s=0.5)
K = StampClock.KERNEL


class Line:
    """A reflector behind a line: what happens to each sequence number is told by `fate`."""

    def __init__(self, fate=None, *, far_offset_s=1234.5, residence_s=0.003):
        self.fate = fate or {}
        self.far_offset_s = far_offset_s
        self.residence_s = residence_s
        self.count = 0

    def __call__(self, out):
        sender = decode_sender(out.payload)
        fate = self.fate.get(sender.sequence, "ok")
        yield Sent(index=out.index, at_s=out.at_s)
        if fate == "there":
            return
        copies = 2 if fate == "twice" else 1
        for copy in range(copies):
            payload = self.reflect(sender, len(out.payload))
            if fate != "back":
                extra = {"late": 0.5, "slow": 0.015}.get(fate, 0.0) + copy * 0.001
                at_s = out.at_s + 0.020 + self.residence_s + extra
                yield Received(payload=payload, at_s=at_s, clock=K, source="198.51.100.10")

    def reflect(self, sender, length):
        # The far clock is off by far_offset_s; 12 ms there, 8 ms back.
        sent_ns = unix_ns_from_ntp(sender.timestamp)
        received_ns = sent_ns + round((self.far_offset_s + 0.012) * 1e9)
        packet = ReflectorPacket(
            sequence=self.count,
            timestamp=ntp_from_unix_ns(received_ns + round(self.residence_s * 1e9)),
            receive_timestamp=ntp_from_unix_ns(received_ns),
            sender_sequence=sender.sequence,
            sender_timestamp=sender.timestamp,
            sender_ttl=60,
            ssid=sender.ssid,
        )
        self.count += 1
        return encode_reflector(packet, length)


def measure(script, plan=PLAN, **kwargs):
    clock = ManualClock(now_s=100.0)
    socket = ScriptedSocket(clock, script)
    asked = {
        "timeline": Timeline(clock, 90.0),
        "role": Role.SERVER,
        "method": "stamp",
        "address": "198.51.100.10",
        "family": 4,
        "within_s": 30.0,
        "running": Unattended(),
    }
    return measure_delay(socket, plan, **asked | kwargs), socket


def test_a_quiet_line():
    running = Unattended()
    measured, socket = measure(Line(), ssid=7, running=running)
    series = measured.observed
    assert (measured.state, measured.reason, measured.clock) == (State.COMPLETE, None, K)
    assert measured.started_s == 10.0
    assert set(series.outcome) == {EchoOutcome.ANSWERED}
    # 20 ms on the line; the 3 ms in the reflector are no part of it (RFC 8762 §4.3.1).
    assert series.rtt_ms == pytest.approx((20.0,) * 10, abs=1e-4)
    assert series.sent_s == pytest.approx([10.0 + i * 0.01 for i in range(10)])
    assert series.forward_ms == pytest.approx((1234_512.0,) * 10, abs=0.01)
    assert series.backward_ms == pytest.approx((-1234_492.0,) * 10, abs=0.01)
    packets = [decode_sender(out.payload) for out in socket.sent]
    assert [p.sequence for p in packets] == list(range(10))
    assert {p.ssid for p in packets} == {7}
    # 44 octets of STAMP in UDP and IPv4: 72, twice (RFC 8762, 768, 791).
    assert running.bytes_used == 10 * 2 * 72


def test_every_fate_is_told_apart():
    fate = {1: "there", 3: "back", 5: "twice", 6: "slow", 2: "late"}
    report = FarReport(received=10, order=((0, 1), (2, 4), (5, 5)))
    measured, _ = measure(Line(fate), far_report=lambda: report)
    series = measured.observed
    lost = {n for n, outcome in enumerate(series.outcome) if outcome is EchoOutcome.LOST}
    assert lost == {1, 3}
    assert series.outcome[2] is EchoOutcome.LATE
    assert series.rtt_ms[2] == pytest.approx(520.0, abs=1e-3)
    assert series.copies == (1, 0, 1, 0, 1, 2, 1, 1, 1, 1)
    # Number 6 came 15 ms late and so after 7, before 8; the late 2 came last.
    assert series.arrival_order == (0, 4, 5, 7, 6, 8, 9, 2)
    assert [n for n, there in enumerate(series.far_received) if there is False] == [1]
    assert series.far_order == (0, 2, 3, 4, 5, 6, 7, 8, 9)


def test_without_a_report_the_counts_split_what_they_can():
    measured, _ = measure(Line({1: "there", 4: "back", 9: "there"}))
    known = measured.observed.far_received
    assert known[:9] == (True, False, True, True, True, True, True, True, True)
    assert known[9] is None


def test_a_report_that_cannot_be_had_costs_only_the_direction():
    def fails():
        raise TimedOut(address="198.51.100.10", after_s=2)

    measured, _ = measure(Line({1: "there"}), far_report=fails)
    assert measured.state is State.COMPLETE
    assert measured.observed.outcome[1] is EchoOutcome.LOST


def test_silence_is_a_complete_measurement():
    measured, _ = measure(lambda out: ())
    assert measured.state is State.COMPLETE
    assert set(measured.observed.outcome) == {EchoOutcome.LOST}
    assert measured.duration_s == pytest.approx(0.09 + 0.5, abs=1e-3)
    assert measured.clock is None


def test_errors_name_their_sender():
    def refuse(out):
        yield Failed(
            icmp_type=3,
            icmp_code=1,
            at_s=out.at_s + 0.004,
            clock=K,
            source="192.0.2.1",
            quoted=out.payload,
        )

    measured, _ = measure(refuse)
    assert set(measured.observed.outcome) == {EchoOutcome.UNREACHABLE}
    assert measured.observed.error_from[9] == (9, "192.0.2.1", "3/1")


@pytest.mark.parametrize(("interval_s", "named"), [(0.01, 0), (0.1, 10)])
def test_an_error_that_quotes_too_little_is_placed_only_where_one_probe_is_under_way(
    interval_s, named
):
    # RFC 792 asks for 64 bits of the datagram only, which end before any payload.
    def refuse(out):
        yield Failed(icmp_type=3, icmp_code=1, at_s=out.at_s + 0.05, clock=K, source="192.0.2.1")

    plan = EchoPlan(count=10, interval_s=interval_s, waiting_s=0.5)
    measured, _ = measure(refuse, plan)
    assert len(measured.observed.error_from) == named


def test_a_port_that_is_gone_fails_with_its_reason_and_soon():
    def gone(out):
        raise NoRoute(address="198.51.100.10")

    measured, _ = measure(gone, EchoPlan(count=1000, interval_s=0.01))
    assert measured.state is State.FAILED
    assert measured.reason.code == "no-route"
    assert measured.observed is None
    assert measured.duration_s == pytest.approx(1.0, abs=0.02)


def test_a_send_that_fails_once_is_unsent_and_the_rest_stands():
    line = Line()

    def script(out):
        if out.at_s == pytest.approx(100.03) and script.first:
            script.first = False
            raise NoRoute(address="198.51.100.10")
        return tuple(line(out))

    script.first = True
    measured, _ = measure(script)
    outcomes = measured.observed.outcome
    assert measured.state is State.COMPLETE
    assert [n for n, o in enumerate(outcomes) if o is EchoOutcome.UNSENT] == [3]
    assert outcomes.count(EchoOutcome.ANSWERED) == 9
    assert measured.observed.rtt_ms[4] == pytest.approx(20.0, abs=1e-4)


def test_time_ends_a_series_and_nothing_undecided_is_called_lost():
    measured, _ = measure(Line(), EchoPlan(count=100, interval_s=0.01), within_s=0.2)
    assert measured.state is State.PARTIAL
    assert measured.reason.code == "time-limit"
    assert set(measured.observed.outcome) == {EchoOutcome.ANSWERED}
    assert 15 <= len(measured.observed.outcome) <= 20


def test_a_wish_to_stop_is_heard_and_what_was_measured_is_kept():
    class Stopping(Unattended):
        def stopped(self):
            return self.bytes_used > 1000

    measured, socket = measure(Line(), EchoPlan(count=100, interval_s=0.01), running=Stopping())
    assert (measured.state, measured.reason.code) == (State.PARTIAL, "stopped")
    assert 0 < len(measured.observed.outcome) < 20
    assert len(socket.sent) < 20


@pytest.mark.parametrize("payload", [b"", bytes(43), bytes(44), b"\xff" * 60])
def test_answers_that_belong_to_no_probe_are_named_and_never_counted(payload):
    def noise(out):
        yield Received(payload=payload, at_s=out.at_s + 0.001, clock=K)

    measured, _ = measure(noise)
    assert measured.reason.code == "bad-reply"
    assert set(measured.observed.outcome) == {EchoOutcome.LOST}


def test_an_answer_must_hold_the_stamp_that_was_sent():
    line = Line()

    def forge(out):
        sender = decode_sender(out.payload)
        forged = type(sender)(sequence=sender.sequence, timestamp=sender.timestamp ^ 1)
        yield Received(payload=line.reflect(forged, 44), at_s=out.at_s + 0.001, clock=K)

    measured, _ = measure(forge)
    assert set(measured.observed.outcome) == {EchoOutcome.LOST}


def test_one_stamp_by_this_program_makes_the_series_user_stamped():
    line = Line()

    def script(out):
        for event in line(out):
            if out.index != 4 or not isinstance(event, Sent):
                yield event

    measured, _ = measure(script)
    assert measured.clock is StampClock.USER
    assert measured.observed.rtt_ms[4] == pytest.approx(20.0, abs=1e-4)


def test_clock_steps_of_the_socket_are_recorded():
    clock = ManualClock()
    socket = ScriptedSocket(clock, Line())
    socket.clock_steps = 2
    measured = measure_delay(
        socket,
        PLAN,
        timeline=Timeline(clock, 0.0),
        role=Role.SERVER,
        method="stamp",
        address="198.51.100.10",
        family=4,
        within_s=9,
        running=Unattended(),
    )
    assert measured.observed.clock_steps == 2


def test_stamps_in_another_format_are_not_taken_for_times():
    # RFC 8762 §4.2.1: the Z bit says that the stamp is not in NTP format.
    line = Line()

    def ptp(out):
        for event in line(out):
            if isinstance(event, Received):
                data = bytearray(event.payload)
                data[12:14] = ErrorEstimate(ptp=True).word().to_bytes(2, "big")
                yield Received(payload=bytes(data), at_s=event.at_s, clock=K)
            else:
                yield event

    measured, _ = measure(ptp)
    assert measured.observed.rtt_ms == pytest.approx((23.0,) * 10, abs=1e-4)
    assert set(measured.observed.forward_ms) == {None}


def echo_back(out):
    yield Sent(index=out.index, at_s=out.at_s)
    yield Received(payload=out.payload, at_s=out.at_s + 0.002, clock=K)


def test_icmp_echo_finds_its_own_data_again():
    measured, socket = measure(echo_back, method="icmp-echo", role=Role.GATEWAY)
    assert measured.observed.rtt_ms == pytest.approx((2.0,) * 10)
    assert measured.observed.far_received is None
    assert {len(out.payload) for out in socket.sent} == {44}
    assert len({out.payload for out in socket.sent}) == 10


def test_icmp_echo_of_another_run_is_not_ours():
    _, earlier = measure(echo_back, method="icmp-echo")

    def replay(out):
        old = earlier.sent[out.index].payload
        yield Received(payload=old, at_s=out.at_s + 0.002, clock=K)

    measured, _ = measure(replay, method="icmp-echo")
    assert set(measured.observed.outcome) == {EchoOutcome.LOST}


def test_an_open_ended_series_ends_when_it_is_told_and_waits_for_what_is_under_way():
    sent = []

    def line(out):
        sent.append(out.index)
        yield from Line({3: "there"})(out)

    endless = EchoPlan(count=100_000, interval_s=0.01, waiting_s=0.5)
    measured, _ = measure(line, plan=endless, enough=lambda: len(sent) >= 4)
    assert measured.state is State.COMPLETE
    assert len(sent) == 4
    assert [o.value for o in measured.observed.outcome] == ["answered"] * 3 + ["lost"]
    # The lost one was waited for in full.
    assert measured.duration_s == pytest.approx(0.03 + 0.5, abs=0.01)
