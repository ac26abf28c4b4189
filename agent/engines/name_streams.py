"""A DNS query over a connection: TCP, or TLS on top of it, two octets of length before a message.

RFC 1035 §4.2.2, RFC 7766, RFC 7858 §3.3.
"""

from __future__ import annotations

import errno
import socket
from dataclasses import replace

import dns.message

from agent.clock import Clock
from agent.engines.connecting import Deadline, Peer, translate
from agent.engines.name_messages import read_answer
from agent.errors import (
    BadReply,
    CannotMeasure,
    ClosedEarly,
    InterfaceDown,
    NoRoute,
    Refused,
    TimedOut,
    TlsFault,
)
from agent.measurements import NameOutcome
from agent.ports.names import NameAnswer
from agent.units import ms_from_s

LARGEST_PART = 65_535

_OUTCOMES: dict[type[CannotMeasure], NameOutcome] = {
    TimedOut: NameOutcome.LOST,
    Refused: NameOutcome.REFUSED,
    NoRoute: NameOutcome.UNREACHABLE,
    InterfaceDown: NameOutcome.UNREACHABLE,
    ClosedEarly: NameOutcome.MALFORMED,
    BadReply: NameOutcome.MALFORMED,
    TlsFault: NameOutcome.UNTRUSTED,
}


def outcome_of(error: CannotMeasure) -> NameOutcome:
    """Return what a failed connection means for its query; raises what says nothing of the way."""
    found = _OUTCOMES.get(type(error))
    if found is None:
        raise error
    return found


def ask_stream(
    sock: socket.socket,
    query: dns.message.Message,
    peer: Peer,
    deadline: Deadline,
    clock: Clock,
) -> NameAnswer:
    """Send one query on a connection and return its answer; raises CannotMeasure."""
    wire = query.to_wire()
    sent_s = clock.monotonic_s()
    try:
        sock.settimeout(deadline.left_s(peer.address))
        sock.sendall(len(wire).to_bytes(2, "big") + wire)
        size = int.from_bytes(_exactly(sock, 2, peer, deadline), "big")
        data = _exactly(sock, size, peer, deadline)
    except OSError as error:
        raise translate(error, peer.address, after_s=deadline.within_s) from error
    answer = read_answer(data, query)
    if answer is None:
        return NameAnswer(outcome=NameOutcome.MALFORMED, foreign=1)
    return replace(answer, rtt_ms=ms_from_s(clock.monotonic_s() - sent_s))


def _exactly(sock: socket.socket, size: int, peer: Peer, deadline: Deadline) -> bytes:
    """Return `size` bytes before the deadline; a close before is a connection error."""
    data = bytearray()
    while len(data) < size:
        sock.settimeout(deadline.left_s(peer.address))
        part = sock.recv(min(size - len(data), LARGEST_PART))
        if not part:
            raise ConnectionResetError(errno.ECONNRESET, "closed before the answer ended")
        data += part
    return bytes(data)
