"""Single attempts on ports over plain sockets; on Linux with the word of who refused.

A connection carries nothing but, where asked for, one question of ours; a reset ends it.
"""

from __future__ import annotations

import errno
import os
import select
import socket
import struct
import sys
import time
from dataclasses import dataclass, replace

from agent.codec.sighting import ASK_BYTES, TOKEN_BYTES, Seen, decode_seen, encode_ask
from agent.engines.connecting import Peer as Far
from agent.engines.connecting import bind
from agent.engines.linux_ancillary import (
    IP_RECVERR,
    IPV6_RECVERR,
    MSG_ERRQUEUE,
    ORIGIN_ICMP,
    ORIGIN_ICMP6,
    SOL_IPV6,
    SPACE,
    ExtendedError,
    read_ancillary,
)
from agent.engines.linux_tying import FAMILIES, family_of, sockaddr
from agent.errors import CannotMeasure, MalformedMessage
from agent.measurements import ReachOutcome, Transport
from agent.ports.binding import Binding
from agent.ports.reach import ReachAnswer, ReachOrder
from agent.units import MS_PER_S

LARGEST = 2048
RESET = struct.pack("ii", 1, 0)
READING, WRITING = 1, 4
"""POLLIN and POLLOUT (poll(2)), which Windows' select module does not name."""

KINDS = {Transport.TCP: socket.SOCK_STREAM, Transport.UDP: socket.SOCK_DGRAM}
UNDER_WAY = {0, errno.EINPROGRESS, errno.EWOULDBLOCK}
REFUSALS = {errno.ECONNREFUSED, errno.ECONNRESET}
UNREACHABLE = {errno.EHOSTUNREACH, errno.ENETUNREACH, errno.EACCES}
EXPIRED = {4: (11, 0), 6: (3, 0)}
"""Hop limit exceeded in transit (RFC 792; RFC 4443 §3.3)."""

_HOP_LIMIT = {
    4: (socket.IPPROTO_IP, socket.IP_TTL),
    6: (socket.IPPROTO_IPV6, socket.IPV6_UNICAST_HOPS),
}


class SystemReach:
    """Attempts from the interface under test; see `ReachPort`."""

    def __init__(self, binding: Binding) -> None:
        self._binding = binding

    @property
    def limits_hops(self) -> bool:
        """Tell whether this system says which router a hop limit ran out at: Linux does."""
        return sys.platform == "linux"

    def attempt(self, order: ReachOrder) -> ReachAnswer:
        """Make one attempt within its time."""
        family = family_of(order.address)
        try:
            with socket.socket(FAMILIES[family], KINDS[order.transport]) as sock:
                bind(sock, self._binding, Far(address=order.address, port=order.port))
                _prepare(sock, order, family)
                return _Attempt(sock, order, family, self._binding.interface).run()
        except (OSError, CannotMeasure):
            return ReachAnswer(outcome=ReachOutcome.UNSENT)


@dataclass
class _Attempt:
    """One attempt under way on its socket."""

    sock: socket.socket
    order: ReachOrder
    family: int
    interface: str | None
    token: bytes = b""

    def run(self) -> ReachAnswer:
        self.token = os.urandom(TOKEN_BYTES)
        began_s = time.monotonic()
        found = self._tried(began_s + self.order.within_s)
        took_ms = (time.monotonic() - began_s) * MS_PER_S
        answered = found.outcome not in {ReachOutcome.SILENT, ReachOutcome.UNSENT}
        found = replace(
            found, rtt_ms=took_ms if answered and found.rtt_ms is None else found.rtt_ms
        )
        address, port = self.sock.getsockname()[:2]
        return replace(found, own_address=str(address), own_port=int(port))

    def _tried(self, ends_s: float) -> ReachAnswer:
        where = sockaddr(self.order.address, self.order.port, self.family, self.interface)
        began_s = time.monotonic()
        refused = self.sock.connect_ex(where)
        if refused not in UNDER_WAY:
            return self._failure(refused)
        if self.order.transport is Transport.UDP:
            return self._asked(ends_s)
        if not _ready(self.sock, WRITING, ends_s):
            return ReachAnswer(outcome=ReachOutcome.SILENT)
        failed = self.sock.getsockopt(socket.SOL_SOCKET, socket.SO_ERROR)
        if failed:
            return self._failure(failed)
        took_ms = (time.monotonic() - began_s) * MS_PER_S
        opened = ReachAnswer(outcome=ReachOutcome.OPEN, rtt_ms=took_ms)
        if not self.order.asks:
            return opened
        asked = self._asked(ends_s)
        return replace(opened, seen_address=asked.seen_address, seen_port=asked.seen_port)

    def _asked(self, ends_s: float) -> ReachAnswer:
        """Return what came of a question: over UDP any answer says that the port is open."""
        try:
            self.sock.send(encode_ask(self.token))
            if not _ready(self.sock, READING, ends_s):
                return ReachAnswer(outcome=ReachOutcome.SILENT)
            told = self.sock.recv(LARGEST)
        except OSError as error:
            return self._failure(error.errno or 0)
        seen = _seen(told, self.token) if self.order.asks else None
        opened = ReachAnswer(outcome=ReachOutcome.OPEN)
        if seen is None:
            return opened
        return replace(opened, seen_address=seen.address, seen_port=seen.port)

    def _failure(self, number: int) -> ReachAnswer:
        """Return what a failed attempt stands for, by the ICMP error where there was one."""
        error = _icmp_error(self.sock) if sys.platform == "linux" else None
        if error is not None:
            kind = (error.icmp_type, error.icmp_code)
            expired = kind == EXPIRED[self.family]
            return ReachAnswer(
                outcome=ReachOutcome.EXPIRED if expired else ReachOutcome.UNREACHABLE,
                answered_by=error.offender,
                icmp_type=error.icmp_type,
                icmp_code=error.icmp_code,
            )
        if number in REFUSALS:
            return ReachAnswer(outcome=ReachOutcome.REFUSED)
        if number in {errno.ETIMEDOUT, errno.EAGAIN}:
            return ReachAnswer(outcome=ReachOutcome.SILENT)
        known = number in UNREACHABLE
        return ReachAnswer(outcome=ReachOutcome.UNREACHABLE if known else ReachOutcome.UNSENT)


def _prepare(sock: socket.socket, order: ReachOrder, family: int) -> None:
    sock.setblocking(False)
    if order.transport is Transport.TCP:
        sock.setsockopt(socket.SOL_SOCKET, socket.SO_LINGER, RESET)
    if sys.platform == "linux":
        level, option = (socket.SOL_IP, IP_RECVERR) if family == 4 else (SOL_IPV6, IPV6_RECVERR)
        sock.setsockopt(level, option, 1)
    if order.hop_limit is not None:
        sock.setsockopt(*_HOP_LIMIT[family], order.hop_limit)


def _ready(sock: socket.socket, events: int, ends_s: float) -> bool:
    """Wait until something happened on a socket; tell whether it did in time."""
    left_s = max(0.0, ends_s - time.monotonic())
    if not hasattr(select, "poll"):
        able = [sock] if events == READING else []
        found = select.select(able, [] if able else [sock], [sock], left_s)
        return any(found)
    poll = select.poll()
    poll.register(sock, events)
    return bool(poll.poll(left_s * MS_PER_S))


def _seen(told: bytes, token: bytes) -> Seen | None:
    try:
        return decode_seen(told[: ASK_BYTES + 1], token)
    except MalformedMessage:
        return None


def _icmp_error(sock: socket.socket) -> ExtendedError | None:
    try:
        _, items, _, _ = sock.recvmsg(LARGEST, SPACE, MSG_ERRQUEUE)
    except OSError:
        return None
    error = read_ancillary(items).error
    return error if error is not None and error.origin in {ORIGIN_ICMP, ORIGIN_ICMP6} else None
