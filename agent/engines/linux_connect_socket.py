"""Timing TCP's first round trip on Linux: a SYN, and the SYN-ACK or RST that answers it.

The way where no ICMP echo may be sent: it needs no right. A connection is one probe; it carries
nothing, is dropped at once with a reset, and lives no longer than TCP waits before it sends the
SYN again (RFC 6298 §2.1): after that nobody could say which of the two was answered.

The kernel itself times a SYN-ACK, in whole microseconds, from TCP handing the SYN over to TCP
reading the answer: what waits in the laptop's own queue is part of it. A RST it does not time; such
a round trip ends when this program hears of it.
"""

from __future__ import annotations

import errno
import os
import select
import socket
import struct
import time
from dataclasses import dataclass

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
from agent.engines.linux_refusals import refusal
from agent.engines.linux_tying import FAMILIES, family_of, sockaddr, tie
from agent.engines.tcp_counters import read_tcp_info
from agent.engines.waiting import wait_readable
from agent.measurements import StampClock
from agent.ports.binding import Binding
from agent.ports.datagram import Event, Failed, Received, Sent
from agent.units import NS_PER_S

REPEATS_S = 1.0
"""The first retransmission time of a SYN (RFC 6298 §2.1)."""

LARGEST = 2048
RESET = struct.pack("ii", 1, 0)
UNDER_WAY = {0, errno.EINPROGRESS, errno.ECONNREFUSED}
"""What a connection that was begun says; a refusal at once is told again as its outcome."""


@dataclass(frozen=True, slots=True, kw_only=True)
class _Attempt:
    """One connection being made."""

    index: int
    payload: bytes
    sock: socket.socket
    sent_ns: int


class LinuxConnectSocket:
    """Connections to one port of `address`, each a probe; see `ProbeSocket`.

    No payload is sent: an answer hands back the one its probe was given, for TCP itself has
    matched it to the connection (RFC 9293 §3.10.7.3).
    """

    def __init__(self, binding: Binding, address: str, port: int) -> None:
        self._binding = binding
        self._address = address
        self._port = port
        self._family = family_of(address)
        self._events = select.epoll()
        self._attempts: dict[int, _Attempt] = {}
        self._made = 0

    @property
    def clock_steps(self) -> int:
        """Return 0: only the monotonic clock is read."""
        return 0

    def fileno(self) -> int:
        """Return the descriptor that turns readable when something happened."""
        return self._events.fileno()

    def send(self, payload: bytes, hop_limit: int | None = None) -> int:
        """Begin one connection and return its index; raises CannotMeasure."""
        self._drop_old(time.monotonic_ns())
        try:
            attempt = self._begin(payload, hop_limit)
        except OSError as error:
            raise refusal(error, binding=self._binding, address=self._address) from error
        self._attempts[attempt.sock.fileno()] = attempt
        self._events.register(attempt.sock, select.EPOLLOUT)
        self._made += 1
        return attempt.index

    def poll(self, timeout_s: float) -> tuple[Event, ...]:
        """Return what happened, waiting at most `timeout_s` for something to happen."""
        wait_readable((self.fileno(),), timeout_s)
        ready = self._events.poll(0)
        now_ns = time.monotonic_ns()
        events = [event for number, mask in ready for event in self._heard(number, mask, now_ns)]
        self._drop_old(now_ns)
        return tuple(events)

    def close(self) -> None:
        """Drop every connection; closing twice is harmless."""
        for number in list(self._attempts):
            self._drop(number)
        self._events.close()

    def _begin(self, payload: bytes, hop_limit: int | None) -> _Attempt:
        sock = socket.socket(FAMILIES[self._family], socket.SOCK_STREAM)
        try:
            tie(sock, self._family, self._binding)
            self._prepare(sock, hop_limit)
            sent_ns = self._connect(sock)
        except OSError:
            sock.close()
            raise
        return _Attempt(index=self._made, payload=payload, sock=sock, sent_ns=sent_ns)

    def _connect(self, sock: socket.socket) -> int:
        target = sockaddr(self._address, self._port, self._family, self._binding.interface)
        sent_ns = time.monotonic_ns()
        refused = sock.connect_ex(target)
        if refused not in UNDER_WAY:
            raise OSError(refused, os.strerror(refused))
        return sent_ns

    def _prepare(self, sock: socket.socket, hop_limit: int | None) -> None:
        sock.setsockopt(socket.SOL_SOCKET, socket.SO_LINGER, RESET)
        sock.setsockopt(socket.IPPROTO_TCP, socket.TCP_SYNCNT, 1)
        if self._family == 4:
            sock.setsockopt(socket.SOL_IP, IP_RECVERR, 1)
        else:
            sock.setsockopt(SOL_IPV6, IPV6_RECVERR, 1)
        if hop_limit is not None:
            level, option = (
                (socket.SOL_IP, socket.IP_TTL)
                if self._family == 4
                else (SOL_IPV6, socket.IPV6_UNICAST_HOPS)
            )
            sock.setsockopt(level, option, hop_limit)

    def _heard(self, number: int, mask: int, now_ns: int) -> tuple[Event, ...]:
        attempt = self._attempts.get(number)
        if attempt is None:
            return ()
        error = _icmp_error(attempt.sock)
        if error is None and not mask & (select.EPOLLOUT | select.EPOLLHUP):
            return ()
        events = _events_of(attempt, error, now_ns)
        self._drop(number)
        return events

    def _drop_old(self, now_ns: int) -> None:
        oldest_ns = now_ns - round(REPEATS_S * NS_PER_S)
        for number, attempt in list(self._attempts.items()):
            if attempt.sent_ns > oldest_ns:
                # Attempts stand in the order in which they were made.
                return
            self._drop(number)

    def _drop(self, number: int) -> None:
        # Closing takes the descriptor out of the set of events.
        self._attempts.pop(number).sock.close()


def _events_of(attempt: _Attempt, error: ExtendedError | None, now_ns: int) -> tuple[Event, ...]:
    if error is not None:
        return (_failed(attempt, error, now_ns),)
    found = attempt.sock.getsockopt(socket.SOL_SOCKET, socket.SO_ERROR)
    info = read_tcp_info(attempt.sock)
    repeated = info is not None and bool(info.segments_retransmitted)
    if repeated or found not in {0, errno.ECONNREFUSED}:
        return ()
    if found or info is None or not info.rtt_ms:
        return (_received(attempt, now_ns, StampClock.USER),)
    at_ns = attempt.sent_ns + round(info.rtt_ms * NS_PER_S / 1000)
    return (
        Sent(index=attempt.index, at_s=attempt.sent_ns / NS_PER_S),
        _received(attempt, at_ns, StampClock.KERNEL),
    )


def _received(attempt: _Attempt, at_ns: int, clock: StampClock) -> Received:
    return Received(payload=attempt.payload, at_s=at_ns / NS_PER_S, clock=clock)


def _failed(attempt: _Attempt, error: ExtendedError, now_ns: int) -> Failed:
    return Failed(
        icmp_type=error.icmp_type,
        icmp_code=error.icmp_code,
        at_s=now_ns / NS_PER_S,
        clock=StampClock.USER,
        source=error.offender,
        quoted=attempt.payload,
    )


def _icmp_error(sock: socket.socket) -> ExtendedError | None:
    """Return the ICMP error about a connection, which otherwise looks like a reset."""
    try:
        _, items, _, _ = sock.recvmsg(LARGEST, SPACE, MSG_ERRQUEUE)
    except OSError:
        return None
    error = read_ancillary(items).error
    return error if error is not None and error.origin in {ORIGIN_ICMP, ORIGIN_ICMP6} else None
