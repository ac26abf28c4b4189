"""The Windows engine over scripted calls: its own logic, on any system."""

import socket
import struct
import threading

import pytest

from agent.codec.mark import Mark, encode_mark
from agent.engines.windows_echo import MOST_AT_ONCE, WindowsEchoSocket
from agent.errors import NotTaken
from agent.measurements import StampClock
from agent.ports.binding import Binding
from agent.ports.datagram import Failed, Received, Sent

BASE = 0x7000
HEAD = struct.Struct("<4sIIHHQ16x")
"""ICMP_ECHO_REPLY of ipexport.h, 64 bits (from memory)."""

HEAD_6 = struct.Struct("<2xI16sI2xII")
EXPIRED, TIMED_OUT = 11_013, 11_010
WAIT_S = 5.0


class ScriptedCalls:
    """Answers each call as its script says; keeps what was asked."""

    def __init__(self, script):
        self.script = script
        self.asked = []
        self.closed = threading.Event()

    def open(self, family):
        return 40 + family

    def close(self, handle):
        self.handle = handle
        self.closed.set()

    def echo(self, handle, asked):
        self.asked.append((handle, asked))
        return self.script(asked)


def answered(asked, status=0, source="192.0.2.1"):
    head = HEAD.pack(socket.inet_aton(source), status, 3, len(asked.payload), 0, BASE + HEAD.size)
    return head + asked.payload, BASE


def nothing(asked):
    return b"", BASE


def heard(sock, count):
    events = []
    while len(events) < count:
        more = sock.poll(WAIT_S)
        assert more
        events += more
    return events


class Steps:
    """A clock that moves on by the same step each time it is read."""

    def __init__(self, step_ns):
        self.now_ns = 0
        self.step_ns = step_ns

    def __call__(self):
        self.now_ns += self.step_ns
        return self.now_ns


def test_an_answer_is_timed_around_the_call_and_keeps_its_data():
    calls = ScriptedCalls(answered)
    ticks = Steps(2_000_000)
    sock = WindowsEchoSocket(
        calls, Binding(ipv4="192.0.2.30"), "192.0.2.1", now_ns=ticks, monotonic_ns=lambda: 0
    )
    assert sock.send(b"probe") == 0
    sent, received = heard(sock, 2)
    assert isinstance(sent, Sent)
    assert isinstance(received, Received)
    assert received.at_s - sent.at_s == pytest.approx(0.002)
    assert (received.payload, received.source, received.clock) == (
        b"probe",
        "192.0.2.1",
        StampClock.USER,
    )
    handle, asked = calls.asked[0]
    assert (handle, asked.source, asked.target) == (44, "192.0.2.30", "192.0.2.1")
    sock.close()
    assert calls.closed.wait(WAIT_S)


def test_an_expired_hop_limit_is_an_error_about_its_own_probe():
    payload = encode_mark(Mark(nonce=5, number=3))
    calls = ScriptedCalls(lambda asked: answered(asked, EXPIRED, "203.0.113.1"))
    sock = WindowsEchoSocket(calls, Binding(), "198.51.100.2")
    sock.send(payload, hop_limit=2)
    _, failed = heard(sock, 2)
    assert isinstance(failed, Failed)
    assert (failed.icmp_type, failed.icmp_code, failed.source, failed.quoted) == (
        11,
        0,
        "203.0.113.1",
        payload,
    )
    assert calls.asked[0][1].hop_limit == 2
    sock.close()


def test_an_ipv6_answer_belongs_to_the_probe_of_its_call():
    reply = HEAD_6.pack(0, socket.inet_pton(socket.AF_INET6, "2001:db8::1"), 0, 0, 4)
    sock = WindowsEchoSocket(ScriptedCalls(lambda asked: (reply, BASE)), Binding(), "2001:db8::1")
    sock.send(b"probe")
    _, received = heard(sock, 2)
    assert (received.payload, received.source) == (b"probe", "2001:db8::1")
    sock.close()


@pytest.mark.parametrize(
    "script", [nothing, lambda asked: answered(asked, TIMED_OUT), lambda asked: (b"short", BASE)]
)
def test_no_answer_leaves_only_the_sending(script):
    calls = ScriptedCalls(script)
    sock = WindowsEchoSocket(calls, Binding(), "192.0.2.1")
    sock.send(b"probe")
    assert [type(event) for event in heard(sock, 1)] == [Sent]
    sock.close()
    assert calls.closed.wait(WAIT_S)
    assert sock.poll(0) == ()


def test_more_calls_than_bearable_are_refused_and_the_handle_outlives_them():
    gate = threading.Event()

    def held(asked):
        gate.wait(WAIT_S)
        return b"", BASE

    calls = ScriptedCalls(held)
    sock = WindowsEchoSocket(calls, Binding(), "192.0.2.1")
    for index in range(MOST_AT_ONCE):
        assert sock.send(b"probe") == index
    with pytest.raises(NotTaken):
        sock.send(b"probe")
    sock.close()
    assert not calls.closed.is_set()
    gate.set()
    assert calls.closed.wait(WAIT_S)
    with pytest.raises(NotTaken):
        sock.send(b"probe")
