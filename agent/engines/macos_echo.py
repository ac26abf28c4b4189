"""Echo and the hop walk on macOS without rights: datagram ICMP sockets.

After the system's published sources: a plain user may send echo with a hop limit of his own; the
socket hands over whole IPv4 packets, of everybody's ICMP, and keeps the identifier it was given.
Arrivals are stamped by the kernel in microseconds of wall time; sending is not. Never run on a real
system.
"""

from __future__ import annotations

import secrets
import socket
import struct
import time

from agent.codec.icmp import ECHO_REQUEST, decode_echo, decode_error, without_ip_header
from agent.engines.echo_framing import EchoFraming
from agent.engines.kernel_stamps import StampClockMap
from agent.engines.linux_refusals import refusal
from agent.engines.linux_tying import FAMILIES, family_of, sockaddr
from agent.engines.plain_datagram import HOP_LIMIT
from agent.engines.waiting import wait_readable
from agent.errors import MalformedMessage
from agent.measurements import StampClock
from agent.ports.binding import Binding
from agent.ports.datagram import Event, Failed, Received
from agent.units import NS_PER_S

SO_TIMESTAMP = 0x0400
"""sys/socket.h; its message has the level SOL_SOCKET and the type 2 (SCM_TIMESTAMP)."""

SCM_TIMESTAMP = 0x02
IP_BOUND_IF, IPV6_BOUND_IF = 25, 125
PROTOCOLS = {4: socket.IPPROTO_ICMP, 6: socket.IPPROTO_ICMPV6}
_TIMEVAL = struct.Struct("=qi")
_HEADER_6 = 40
_ECHO_HEADER = 8
LARGEST = 2048
SPACE = 256
MOST_AT_ONCE = 256
NS_PER_US = 1_000


def tie(sock: socket.socket, family: int, binding: Binding) -> None:
    """Bind a socket to the interface and the own address under test; raises OSError."""
    if binding.interface is not None:
        level, option = (
            (socket.IPPROTO_IP, IP_BOUND_IF)
            if family == 4
            else (socket.IPPROTO_IPV6, IPV6_BOUND_IF)
        )
        sock.setsockopt(level, option, socket.if_nametoindex(binding.interface))
    own = binding.source(family)
    if own is not None:
        sock.bind(sockaddr(own, 0, family, binding.interface))


def open_echo_socket(binding: Binding, address: str) -> MacEchoSocket:
    """Return an echo socket towards an address; raises CannotMeasure."""
    family = family_of(address)
    try:
        sock = socket.socket(FAMILIES[family], socket.SOCK_DGRAM, PROTOCOLS[family])
    except OSError as error:
        raise refusal(error, binding=binding, address=address) from error
    try:
        sock.setblocking(False)
        tie(sock, family, binding)
        sock.setsockopt(socket.SOL_SOCKET, SO_TIMESTAMP, 1)
    except OSError as error:
        sock.close()
        raise refusal(error, binding=binding, address=address) from error
    return MacEchoSocket(sock, binding, address)


class MacEchoSocket:
    """Echo towards one address, sorted out of everybody's ICMP; see `ProbeSocket`."""

    protocol = "icmp"

    def __init__(
        self,
        sock: socket.socket,
        binding: Binding,
        address: str,
        clocks: StampClockMap | None = None,
    ) -> None:
        self._sock = sock
        self._binding = binding
        self._address = address
        self._family = family_of(address)
        self._target = sockaddr(address, 0, self._family, binding.interface)
        self._identifier = secrets.randbits(16)
        self._framing = EchoFraming(
            family=self._family, identifier=self._identifier, ip_header=self._family == 4
        )
        self._clocks = clocks or StampClockMap()
        self._looked_ns = time.monotonic_ns()
        self._payloads: list[bytes] = []

    @property
    def clock_steps(self) -> int:
        """Return how often the wall clock stepped while the socket was open."""
        return self._clocks.steps

    def fileno(self) -> int:
        """Return the descriptor that turns readable when something happened."""
        return self._sock.fileno()

    def send(self, payload: bytes, hop_limit: int | None = None) -> int:
        """Send one echo now and return its index; raises CannotMeasure."""
        index = len(self._payloads)
        try:
            if hop_limit is not None:
                self._sock.setsockopt(*HOP_LIMIT[self._family], hop_limit)
            self._sock.sendto(self._framing.wrap(index, payload), self._target)
        except OSError as error:
            raise refusal(error, binding=self._binding, address=self._address) from error
        self._payloads.append(payload)
        return index

    def poll(self, timeout_s: float) -> tuple[Event, ...]:
        """Return what happened, waiting at most `timeout_s` for something to happen."""
        wait_readable((self.fileno(),), timeout_s)
        self._clocks.look()
        since_ns, self._looked_ns = self._looked_ns, time.monotonic_ns()
        events: list[Event] = []
        for _ in range(MOST_AT_ONCE):
            try:
                data, items, _, source = self._sock.recvmsg(LARGEST, SPACE)
            except OSError:
                break
            event = self._event(data, str(source[0]), _stamp_ns(items), since_ns)
            if event is not None:
                events.append(event)
        return tuple(events)

    def close(self) -> None:
        """Give the socket back; closing twice is harmless."""
        self._sock.close()

    def _event(self, data: bytes, source: str, stamp_ns: int | None, since_ns: int) -> Event | None:
        at_s, clock = self._when(stamp_ns, since_ns)
        answer = self._framing.unwrap(data)
        if answer is not None:
            return Received(
                payload=answer.payload,
                at_s=at_s,
                clock=clock,
                source=source,
                sequence=answer.sequence,
            )
        try:
            message = without_ip_header(data) if self._family == 4 else data
            return self._failure(message, source, at_s, clock)
        except MalformedMessage:
            return None

    def _failure(self, data: bytes, source: str, at_s: float, clock: StampClock) -> Failed | None:
        """Return an error about an own echo; its number alone names the probe (RFC 792)."""
        error = decode_error(data, self._family)
        quoted = without_ip_header(error.quoted) if self._family == 4 else error.quoted[_HEADER_6:]
        echo = decode_echo(quoted)
        ours = echo.icmp_type == ECHO_REQUEST[self._family] and echo.identifier == self._identifier
        if not ours or not len(self._payloads):
            return None
        index = _latest(echo.sequence, len(self._payloads))
        return Failed(
            icmp_type=error.icmp_type,
            icmp_code=error.icmp_code,
            at_s=at_s,
            clock=clock,
            source=source,
            quoted=b"" if index is None else self._payloads[index],
            mtu_bytes=error.mtu_bytes,
        )

    def _when(self, stamp_ns: int | None, since_ns: int) -> tuple[float, StampClock]:
        now_ns = time.monotonic_ns()
        at_ns = None
        if stamp_ns is not None:
            at_ns = self._clocks.monotonic_ns(stamp_ns, since_ns=since_ns, until_ns=now_ns)
        known = at_ns is not None
        return (
            (at_ns if at_ns is not None else now_ns) / NS_PER_S,
            StampClock.KERNEL if known else StampClock.USER,
        )


def _latest(sequence: int, sent: int) -> int | None:
    """Return the last index sent whose 16 bits are those of a sequence number."""
    index = sent - 1 - (sent - 1 - sequence) % 65_536
    return index if index >= 0 else None


def _stamp_ns(items: list[tuple[int, int, bytes]]) -> int | None:
    for level, kind, data in items:
        if (level, kind) == (socket.SOL_SOCKET, SCM_TIMESTAMP) and len(data) >= _TIMEVAL.size:
            seconds, microseconds = _TIMEVAL.unpack_from(data)
            return int(seconds) * NS_PER_S + int(microseconds) * NS_PER_US
    return None
