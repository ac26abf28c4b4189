"""The search over a scripted socket: what is sent, what is believed of what comes back."""

import pytest

from agent.clock import ManualClock, Timeline
from agent.codec.stamp import BASE_LENGTH, ReflectorPacket, decode_sender, encode_reflector
from agent.errors import NoRoute, TimedOut, TooLarge
from agent.measurements import StampClock
from agent.ports.datagram import Failed, Received
from agent.ports.running import Unattended
from agent.ports.scripted_datagram import ScriptedSocket
from agent.probes.mtu import search_mtu
from agent.schedules.far import FarReport

K = StampClock.KERNEL
TARGET, GATEWAY, SSID = "203.0.113.9", "192.0.2.1", 77
HEADERS = 28
"""IPv4 and UDP (RFC 791, RFC 768)."""


def reflected(payload, length=None):
    """Answer as a session-reflector does (RFC 8762 §4.3.1)."""
    sender = decode_sender(payload)
    packet = ReflectorPacket(
        sequence=0,
        timestamp=1,
        receive_timestamp=1,
        sender_sequence=sender.sequence,
        sender_timestamp=sender.timestamp,
        sender_ttl=250,
        ssid=sender.ssid,
    )
    return encode_reflector(packet, length or len(payload))


class Line:
    """A line that carries `mtu`; larger packets are refused, or vanish where `silent`."""

    def __init__(self, mtu, *, silent=False, port=1500, shorten=False):
        self.mtu, self.silent, self.port, self.shorten = mtu, silent, port, shorten
        self.arrived = []

    def __call__(self, out):
        size, later = len(out.payload) + HEADERS, out.at_s + 0.02
        told = {"at_s": later, "clock": K, "source": GATEWAY, "quoted": out.payload[:64]}
        if size > self.port:
            raise TooLarge(address=TARGET)
        if out.hop_limit == 1:
            return [Failed(icmp_type=11, icmp_code=0, **told)]
        if size > self.mtu:
            if self.silent:
                return []
            return [Failed(icmp_type=3, icmp_code=4, mtu_bytes=self.mtu, **told)]
        self.arrived.append(decode_sender(out.payload).sequence)
        answer = reflected(out.payload, BASE_LENGTH if self.shorten else None)
        return [Received(payload=answer, at_s=later, clock=K, source=TARGET)]

    def report(self):
        return FarReport(received=len(self.arrived), order=tuple((n, 1) for n in self.arrived))


def no_report():
    raise TimedOut(address=TARGET, after_s=2.0)


def search(line, report=None):
    clock = ManualClock(now_s=20.0)
    socket = ScriptedSocket(clock, line)
    found = search_mtu(
        socket,
        ssid=SSID,
        key=None,
        timeline=Timeline(clock, 15.0),
        target=TARGET,
        family=4,
        running=Unattended(),
        far_report=report or line.report,
    )
    return found, socket


def came_back(found):
    pairs = zip(found.size_bytes, found.outcome, strict=True)
    return {size for size, outcome in pairs if outcome == "answered"}


def test_every_packet_has_its_size_and_asks_for_an_answer_as_long():
    found, socket = search(Line(1492))
    assert {len(out.payload) + HEADERS for out in socket.sent} == set(found.size_bytes)
    assert {decode_sender(out.payload).ssid for out in socket.sent} == {SSID}
    assert max(came_back(found)) == 1492


def test_a_refusal_is_credited_to_its_packet_with_who_sent_it():
    found, _ = search(Line(1492))
    refused = found.outcome.index("refused")
    assert found.size_bytes[refused] == 1500
    assert (found.refused_by[refused], found.named_bytes[refused]) == (GATEWAY, 1492)


def test_a_shorter_answer_says_nothing_of_the_size():
    found, _ = search(Line(1500, shorten=True))
    assert came_back(found) == set()


def test_what_the_port_does_not_take_is_held_back_and_the_search_goes_on():
    found, _ = search(Line(1500, port=1480))
    assert max(came_back(found)) == 1480
    assert dict(zip(found.size_bytes, found.outcome, strict=True))[1492] == "held-back"


def test_a_large_packet_to_a_near_router_is_credited_with_its_word():
    found, _ = search(Line(1492, silent=True))
    rows = zip(found.distance, found.outcome, found.answered_by, strict=True)
    assert {(d, a) for d, o, a in rows if o == "passed"} == {(1, GATEWAY)}


def test_the_far_ends_log_tells_what_arrived():
    found, _ = search(Line(1480, silent=True))
    pairs = zip(found.size_bytes, found.distance, found.far_received, strict=True)
    for size, distance, received in pairs:
        if distance is None:
            assert received is (size <= 1480)


def test_without_the_log_what_arrived_stays_unknown():
    found, _ = search(Line(1492), no_report)
    assert set(found.far_received) == {None}
    assert max(came_back(found)) == 1492


@pytest.mark.parametrize("error", [NoRoute(address=TARGET)])
def test_a_system_that_sends_nothing_is_told(error):
    def refuse(_out):
        raise error

    found, _ = search(refuse, lambda: FarReport(received=0, order=()))
    assert came_back(found) == set()
    assert found.not_measured == error.code
