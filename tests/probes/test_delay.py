import itertools
from dataclasses import replace

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
from agent.ports.scripted_datagram import ScriptedSocket, ScriptedWait
from agent.probes.delay import DelaySeries, measure_delay, measure_delays
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
    # The last probe's waiting time, and the tail for late answers.
    assert measured.duration_s == pytest.approx(0.09 + 0.5 + PLAN.tail_s, abs=1e-3)
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
    # One more went out before them: the warm-up, which is in no column.
    assert len({out.payload for out in socket.sent}) == 11


def test_the_warm_up_probe_is_in_no_column_whatever_becomes_of_it():
    """Its stamp is a second late here, as one taken at reading time would be."""

    def slow_first(out):
        yield Sent(index=out.index, at_s=out.at_s)
        late_s = 1.0 if out.index == 0 else 0.0
        yield Received(payload=out.payload, at_s=out.at_s + 0.002 + late_s, clock=K)

    plan = EchoPlan(count=150, interval_s=0.01)
    measured, socket = measure(slow_first, plan, method="icmp-echo")
    series = measured.observed
    assert (len(socket.sent), len(series.rtt_ms)) == (151, 150)
    assert series.rtt_ms == pytest.approx((2.0,) * 150)
    assert series.copies == (1,) * 150
    assert measured.reason is None
    assert min(series.sent_s) > 10.0


def test_a_warm_up_that_is_not_taken_shifts_no_stamp():
    def refused_once(out):
        if out.at_s == 100.0:
            raise NoRoute(address="198.51.100.10")
        yield from echo_back(out)

    measured, _ = measure(refused_once, method="icmp-echo")
    assert measured.observed.rtt_ms == pytest.approx((2.0,) * 10)
    assert measured.clock is K


def test_a_reflector_gets_no_warm_up_for_it_counts_what_it_gets():
    _, socket = measure(Line())
    assert [decode_sender(out.payload).sequence for out in socket.sent] == list(range(10))


OLD = []


def hostile(kind):
    """Return a script whose every answer is wrong in one way."""

    def script(out):
        payload = out.payload
        wrong = {
            "of another run": lambda: OLD[out.index],
            "one bit off": lambda: payload[:-1] + bytes([payload[-1] ^ 1]),
            "another number": lambda: payload[:7] + bytes([payload[7] ^ 1]) + payload[8:],
            "of no number": lambda: payload[:4] + b"\xff" * 6 + payload[10:],
            "the mark alone": lambda: payload[:10],
            "cut short": lambda: payload[:-1],
            "too long": lambda: payload + b"\0",
            "oversize": lambda: payload + bytes(2000),
            "empty": lambda: b"",
        }[kind]()
        yield Sent(index=out.index, at_s=out.at_s)
        yield Received(payload=wrong, at_s=out.at_s + 0.002, clock=K)

    return script


KINDS = [
    "of another run",
    "one bit off",
    "another number",
    "of no number",
    "the mark alone",
    "cut short",
    "too long",
    "oversize",
    "empty",
]


@pytest.mark.parametrize("kind", KINDS)
def test_a_hostile_answer_is_never_an_answer(kind):
    _, earlier = measure(echo_back, method="icmp-echo")
    OLD[:] = [out.payload for out in earlier.sent]
    measured, _ = measure(hostile(kind), method="icmp-echo")
    assert set(measured.observed.outcome) == {EchoOutcome.LOST}
    assert set(measured.observed.copies) == {0}
    assert measured.reason.code == "bad-reply"


@pytest.mark.parametrize(
    ("shift", "outcome"),
    [(0, EchoOutcome.ANSWERED), (1, EchoOutcome.LOST), (65_535, EchoOutcome.LOST)],
)
def test_data_of_one_probe_under_the_number_of_another_are_no_answer(shift, outcome):
    def script(out):
        yield Sent(index=out.index, at_s=out.at_s)
        # RFC 792: the sequence number has 16 bits.
        sequence = (out.index + shift) % 65_536
        payload = out.payload
        yield Received(payload=payload, at_s=out.at_s + 0.002, clock=K, sequence=sequence)

    measured, _ = measure(script, method="icmp-echo")
    assert set(measured.observed.outcome) == {outcome}


def test_sequence_numbers_begin_anew_after_65536_probes():
    def script(out):
        yield Sent(index=out.index, at_s=out.at_s)
        sequence = out.index % 65_536
        payload = out.payload
        yield Received(payload=payload, at_s=out.at_s + 0.002, clock=K, sequence=sequence)

    plan = EchoPlan(count=65_600, interval_s=0.004)
    measured, _ = measure(script, plan, method="icmp-echo", within_s=300.0)
    assert measured.observed.outcome.count(EchoOutcome.ANSWERED) == 65_600


def test_a_replayed_answer_is_a_copy_and_never_a_second_answer():
    def thrice(out):
        yield Sent(index=out.index, at_s=out.at_s)
        for late_s in (0.002, 0.004, 0.3):
            yield Received(payload=out.payload, at_s=out.at_s + late_s, clock=K)

    measured, _ = measure(thrice, method="icmp-echo")
    assert measured.observed.rtt_ms == pytest.approx((2.0,) * 10)
    assert len(measured.observed.arrival_order) == 10


def test_an_error_that_quotes_what_was_not_sent_is_about_no_probe():
    def forged(out):
        for quoted in (out.payload[:-1] + b"?", out.payload + b"?", bytes(44)):
            yield Failed(icmp_type=3, icmp_code=1, at_s=out.at_s + 0.001, clock=K, quoted=quoted)

    measured, _ = measure(forged, method="icmp-echo")
    assert measured.observed.error_from == ()


def refusing(code=3, source="198.51.100.10", quote=slice(None)):
    """Return a far end that answers each datagram with an ICMP error."""

    def script(out):
        yield Sent(index=out.index, at_s=out.at_s)
        yield Failed(
            icmp_type=3,
            icmp_code=code,
            at_s=out.at_s + 0.004,
            clock=K,
            source=source,
            quoted=out.payload[quote],
        )

    return script


@pytest.mark.parametrize("quote", [slice(None), slice(20), slice(0)], ids=["all", "some", "none"])
def test_a_refused_datagram_is_an_answer_of_the_far_end_itself(quote):
    # RFC 792: type 3 code 3, port unreachable; a router may quote 64 bits only.
    plan = EchoPlan(count=10, interval_s=0.05)
    measured, _ = measure(refusing(quote=quote), plan, method="udp-unreachable")
    assert measured.observed.rtt_ms == pytest.approx((4.0,) * 10)
    assert set(measured.observed.outcome) == {EchoOutcome.ANSWERED}
    assert measured.observed.answers_limited
    assert measured.observed.error_from == ()
    assert measured.clock is K


@pytest.mark.parametrize(
    ("code", "source"), [(3, "192.0.2.1"), (13, "198.51.100.10"), (1, "192.0.2.1")]
)
def test_any_other_error_is_an_error_and_names_its_sender(code, source):
    measured, _ = measure(refusing(code, source), method="udp-unreachable")
    assert set(measured.observed.outcome) == {EchoOutcome.UNREACHABLE}
    assert measured.observed.error_from[9] == (9, source, f"3/{code}")


@pytest.mark.parametrize("source", ["2001:db8::1", "2001:0DB8:0:0::0001"])
def test_an_address_is_the_same_however_it_is_written(source):
    # RFC 5952: one address has many texts.
    def refuse(out):
        for event in refusing(4, source)(out):
            yield event if isinstance(event, Sent) else replace(event, icmp_type=1)

    measured, _ = measure(refuse, method="udp-unreachable", address="2001:DB8::1", family=6)
    assert set(measured.observed.outcome) == {EchoOutcome.ANSWERED}


def test_a_refusal_is_no_answer_to_echo():
    measured, _ = measure(refusing(), method="icmp-echo")
    assert set(measured.observed.outcome) == {EchoOutcome.UNREACHABLE}
    assert not measured.observed.answers_limited


@pytest.mark.parametrize("method", ["icmp-echo", "udp-unreachable", "tcp-connect"])
def test_a_far_end_that_does_not_answer_a_means_is_said_to_be_silent_to_it(method):
    measured, _ = measure(lambda out: (), method=method)
    assert measured.state is State.COMPLETE
    assert measured.reason.code == "means-silent"
    assert measured.reason.values == {"means": method, "probes": 10}


def together(scripts, plans, **kwargs):
    """Run one echo series per script in one loop."""
    clock = ManualClock(now_s=100.0)
    sockets = [ScriptedSocket(clock, script) for script in scripts]
    series = [
        DelaySeries(
            socket=socket,
            plan=plan,
            role=role,
            method="icmp-echo",
            address=f"192.0.2.{place}",
            **kwargs,
        )
        for place, (socket, plan, role) in enumerate(
            zip(sockets, plans, (Role.GATEWAY, Role.FIRST_HOP, Role.OUTSIDE), strict=False)
        )
    ]
    found = measure_delays(
        series,
        ScriptedWait(clock),
        timeline=Timeline(clock, 90.0),
        within_s=30.0,
        running=Unattended(),
    )
    return found, sockets


def after(seconds):
    """Return a far end that answers after that time."""

    def script(out):
        yield Sent(index=out.index, at_s=out.at_s)
        yield Received(payload=out.payload, at_s=out.at_s + seconds, clock=K)

    return script


def test_many_targets_in_one_loop_each_keep_their_own_clock_and_fate():
    plans = [EchoPlan(count=n, interval_s=i) for n, i in ((40, 0.01), (20, 0.02), (8, 0.05))]
    found, sockets = together([after(0.0005), after(0.03), lambda out: ()], plans)
    for measured, plan, socket in zip(found, plans, sockets, strict=True):
        assert measured.state is State.COMPLETE
        sent_s = measured.observed.sent_s
        gaps = [b - a for a, b in itertools.pairwise(sent_s)]
        assert gaps == pytest.approx([plan.interval_s] * (plan.count - 1), abs=1e-5)
        assert len(socket.sent) == plan.count + 1
    assert found[0].observed.rtt_ms == pytest.approx((0.5,) * 40)
    assert found[1].observed.rtt_ms == pytest.approx((30.0,) * 20)
    assert set(found[2].observed.outcome) == {EchoOutcome.LOST}
    # The silent one is waited for; the others ended when they were done.
    assert found[0].duration_s < 0.5 < found[2].duration_s


def test_the_first_probes_of_many_targets_do_not_leave_together():
    plans = [EchoPlan(count=5, interval_s=0.03)] * 3
    found, _ = together([after(0.001)] * 3, plans)
    first = sorted(measured.observed.sent_s[0] for measured in found)
    assert min(b - a for a, b in itertools.pairwise(first)) == pytest.approx(0.01, abs=1e-5)


def test_a_series_that_may_switch_gives_up_soon_where_nothing_answers():
    plans = [EchoPlan(count=500, interval_s=0.01, waiting_s=0.2)] * 2
    found, sockets = together([after(0.001), lambda out: ()], plans, gives_up=True)
    assert len(sockets[0].sent) == 501
    # Five probes 10 ms apart, and the waiting time of the fifth.
    assert 20 <= len(sockets[1].sent) <= 30
    assert found[1].reason.code == "means-silent"
    assert found[0].reason is None


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
    # The lost one was waited for in full, and for a late answer after that.
    assert measured.duration_s == pytest.approx(0.03 + 0.5 + endless.tail_s, abs=0.01)
