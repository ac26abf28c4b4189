"""A UDP probe socket with nothing but what every system has: this program's own clock.

Where the system tells of a closed port, it does so as a refusal without saying who refused.
"""

from __future__ import annotations

import errno
import socket
import time
from collections.abc import Callable

from agent.engines.linux_refusals import refusal
from agent.engines.linux_tying import FAMILIES, family_of, sockaddr
from agent.engines.waiting import wait_readable
from agent.measurements import StampClock
from agent.ports.binding import Binding
from agent.ports.datagram import Event, Failed, Received
from agent.units import NS_PER_S

LARGEST = 2048
MOST_AT_ONCE = 256
CLOSED = {errno.ECONNREFUSED, errno.ECONNRESET}
"""What a closed port looks like on a connected socket; Windows calls it a reset."""

PORT_UNREACHABLE = {4: (3, 3), 6: (1, 4)}
"""Type and code by family (RFC 792; RFC 4443 §3.1)."""

HOP_LIMIT = {
    4: (socket.IPPROTO_IP, socket.IP_TTL),
    6: (socket.IPPROTO_IPV6, socket.IPV6_UNICAST_HOPS),
}

Tie = Callable[[socket.socket, int, Binding], None]
"""Binds a socket of a family to the interface under test; raises OSError."""


class PlainDatagramSocket:
    """One connected UDP socket; see `ProbeSocket`."""

    def __init__(self, sock: socket.socket, binding: Binding, address: str) -> None:
        self._sock = sock
        self._binding = binding
        self._address = address
        self._family = family_of(address)
        self._sent = 0

    @property
    def clock_steps(self) -> int:
        """Return 0: only the monotonic clock is read."""
        return 0

    def fileno(self) -> int:
        """Return the descriptor that turns readable when something happened."""
        return self._sock.fileno()

    def send(self, payload: bytes, hop_limit: int | None = None) -> int:
        """Send one datagram now and return its index; raises CannotMeasure."""
        try:
            if hop_limit is not None:
                self._sock.setsockopt(*HOP_LIMIT[self._family], hop_limit)
            self._put_out(payload)
        except OSError as error:
            raise refusal(error, binding=self._binding, address=self._address) from error
        self._sent += 1
        return self._sent - 1

    def _put_out(self, payload: bytes) -> None:
        try:
            self._sock.send(payload)
        except OSError as error:
            if error.errno not in CLOSED:
                raise
            # The refusal of an earlier datagram; reading it made room for this one.
            self._sock.send(payload)

    def poll(self, timeout_s: float) -> tuple[Event, ...]:
        """Return what happened, waiting at most `timeout_s` for something to happen."""
        wait_readable((self.fileno(),), timeout_s)
        events: list[Event] = []
        for _ in range(MOST_AT_ONCE):
            try:
                payload = self._sock.recv(LARGEST)
            except BlockingIOError:
                break
            except OSError as error:
                if error.errno not in CLOSED:
                    break
                events.append(self._refused())
                continue
            events.append(
                Received(payload=payload, at_s=_now_s(), clock=StampClock.USER, source=None)
            )
        return tuple(events)

    def close(self) -> None:
        """Give the socket back; closing twice is harmless."""
        self._sock.close()

    def _refused(self) -> Failed:
        kind, code = PORT_UNREACHABLE[self._family]
        return Failed(icmp_type=kind, icmp_code=code, at_s=_now_s(), clock=StampClock.USER)


def open_plain_socket(tie: Tie, binding: Binding, address: str, port: int) -> PlainDatagramSocket:
    """Return a UDP socket towards a port; raises CannotMeasure."""
    family = family_of(address)
    try:
        sock = socket.socket(FAMILIES[family], socket.SOCK_DGRAM)
        sock.setblocking(False)
    except OSError as error:
        raise refusal(error, binding=binding, address=address) from error
    try:
        tie(sock, family, binding)
        sock.connect(sockaddr(address, port, family, binding.interface))
    except OSError as error:
        sock.close()
        raise refusal(error, binding=binding, address=address) from error
    return PlainDatagramSocket(sock, binding, address)


def _now_s() -> float:
    return time.monotonic_ns() / NS_PER_S
