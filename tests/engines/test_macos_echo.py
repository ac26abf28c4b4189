"""The macOS engine over a scripted socket: whole IPv4 packets, of everybody's ICMP.

Layouts: RFC 791 §3.1, RFC 792, RFC 8200 §3, RFC 4443; the stamp is a struct timeval of 16 octets
with level SOL_SOCKET and type SCM_TIMESTAMP (the system's published headers, from memory).
"""

import socket
import struct

import pytest
from hypothesis import given
from hypothesis import strategies as st

from agent.codec.icmp import Echo, decode_echo, encode_echo
from agent.engines.kernel_stamps import StampClockMap
from agent.engines.macos_echo import SCM_TIMESTAMP, MacEchoSocket
from agent.measurements import StampClock
from agent.ports.binding import Binding
from agent.ports.datagram import Failed, Received

ROUTER, TARGET = "203.0.113.1", "198.51.100.2"


class ScriptedIcmp:
    """A socket that hands over what was put in; a pair of real ones makes it wakeable."""

    def __init__(self):
        self.sent, self.options, self.waiting = [], [], []
        self.near, self.far = socket.socketpair()

    def fileno(self):
        return self.near.fileno()

    def setsockopt(self, *option):
        self.options.append(option)

    def sendto(self, data, target):
        self.sent.append((data, target))

    def put(self, data, source, items=()):
        self.waiting.append((data, list(items), 0, (source, 0)))
        self.far.send(b"x")

    def recvmsg(self, size, space):
        if not self.waiting:
            raise BlockingIOError
        self.near.recv(1)
        return self.waiting.pop(0)

    def close(self):
        self.near.close()
        self.far.close()


@pytest.fixture
def icmp():
    sock = ScriptedIcmp()
    yield sock
    sock.close()


def ip_packet(body, *, options=b""):
    """Return an IPv4 packet around a body; only its version and length are read."""
    head = bytes([0x45 + len(options) // 4]) + bytes(19) + options
    return head + body


def request_of(icmp, place=0):
    return decode_echo(icmp.sent[place][0])


def reply_to(icmp, place=0, **changes):
    asked = request_of(icmp, place)
    parts = {"identifier": asked.identifier, "sequence": asked.sequence, "data": asked.data}
    return encode_echo(Echo(**{"icmp_type": 0, **parts, **changes}))


def expired(quoted, *, family=4):
    kind = 11 if family == 4 else 3
    return bytes([kind, 0, 0, 0, 0, 0, 0, 0]) + quoted


def test_an_answer_of_its_own_is_taken_out_of_the_packet(icmp):
    near = MacEchoSocket(icmp, Binding(), TARGET)
    assert near.send(b"payload", hop_limit=64) == 0
    icmp.put(ip_packet(reply_to(icmp), options=bytes(8)), TARGET)
    (event,) = near.poll(1.0)
    assert isinstance(event, Received)
    assert (event.payload, event.source, event.sequence) == (b"payload", TARGET, 0)
    assert (socket.IPPROTO_IP, socket.IP_TTL, 64) in icmp.options


def test_what_others_are_answered_is_passed_over(icmp):
    near = MacEchoSocket(icmp, Binding(), TARGET)
    near.send(b"payload")
    other = request_of(icmp).identifier ^ 1
    icmp.put(ip_packet(reply_to(icmp, identifier=other)), TARGET)
    icmp.put(ip_packet(expired(ip_packet(reply_to(icmp, icmp_type=8, identifier=other)))), ROUTER)
    icmp.put(ip_packet(reply_to(icmp, icmp_type=8)), TARGET)
    icmp.put(b"\x00", TARGET)
    icmp.put(ip_packet(b""), TARGET)
    found = [event for _ in range(5) for event in near.poll(0)]
    assert found == []


@pytest.mark.parametrize("quoted_octets", [8, 28])
def test_an_error_names_its_probe_by_number_even_from_a_short_quote(icmp, quoted_octets):
    # RFC 792: a router need quote no more than eight octets behind the IP header.
    near = MacEchoSocket(icmp, Binding(), TARGET)
    near.send(b"first of all", hop_limit=1)
    near.send(b"second of all", hop_limit=2)
    quote = ip_packet(icmp.sent[1][0])[: 20 + quoted_octets]
    icmp.put(ip_packet(expired(quote)), ROUTER)
    (event,) = near.poll(1.0)
    assert isinstance(event, Failed)
    assert (event.icmp_type, event.source, event.quoted) == (11, ROUTER, b"second of all")


def test_ipv6_comes_without_a_header_and_quotes_with_one(icmp):
    near = MacEchoSocket(icmp, Binding(), "2001:db8::2")
    near.send(b"payload", hop_limit=3)
    icmp.put(expired(bytes(40) + icmp.sent[0][0], family=6), "2001:db8::1")
    icmp.put(reply_to(icmp, icmp_type=129), "2001:db8::2")
    events = [event for _ in range(2) for event in near.poll(0.0)]
    assert [type(event) for event in events] == [Failed, Received]
    assert (socket.IPPROTO_IPV6, socket.IPV6_UNICAST_HOPS, 3) in icmp.options


def test_the_kernels_stamp_is_turned_into_monotonic_time(icmp):
    # Wall time is 1,000 s ahead of the monotonic clock here.
    import time

    ahead_ns = 1_000 * 10**9
    near = MacEchoSocket(icmp, Binding(), TARGET, StampClockMap(lambda: (ahead_ns, 0)))
    near.send(b"payload")
    seconds, rest = divmod(time.monotonic_ns() + ahead_ns, 10**9)
    stamp = struct.pack("=qi4x", seconds, rest // 1_000)
    icmp.put(ip_packet(reply_to(icmp)), TARGET, [(socket.SOL_SOCKET, SCM_TIMESTAMP, stamp)])
    (event,) = near.poll(1.0)
    assert event.clock is StampClock.KERNEL
    assert event.at_s == pytest.approx(seconds + rest // 1_000 / 1e6 - 1_000, abs=1e-5)


@given(st.binary(max_size=120))
def test_any_packet_is_an_event_or_nothing(data):
    icmp = ScriptedIcmp()
    near = MacEchoSocket(icmp, Binding(), TARGET)
    near.send(b"payload")
    icmp.put(data, ROUTER)
    assert len(near.poll(0)) <= 1
    near.close()
