"""TCP and TLS over the tested line: bound before connecting, bounded by one absolute deadline."""

from __future__ import annotations

import errno
import socket
import ssl
import sys
from collections.abc import Callable
from dataclasses import dataclass

from agent.clock import Clock
from agent.engines.certificates import kind_of
from agent.errors import (
    BadReply,
    CannotMeasure,
    ClosedEarly,
    InterfaceDown,
    NoAddress,
    NoInterface,
    NoRoute,
    Refused,
    RightMissing,
    TimedOut,
    TlsFault,
)
from agent.ports.binding import Binding

# linux/socket.h and netinet/tcp.h; absent from the socket module on other systems.
_SO_BINDTODEVICE = 25
_TCP_CONGESTION = 13
# netinet/in.h of macOS: the same for one interface index.
_IP_BOUND_IF = 25
_IPV6_BOUND_IF = 125


class Deadline:
    """One moment by which everything must be done; hands out what is left of it."""

    def __init__(self, clock: Clock, within_s: float) -> None:
        self._clock = clock
        self.within_s = within_s
        self.at_s = clock.monotonic_s() + within_s

    def left_s(self, address: str) -> float:
        """Return the seconds left, never 0; raises TimedOut once there are none."""
        left = self.at_s - self._clock.monotonic_s()
        if left <= 0:
            raise TimedOut(address=address, after_s=self.within_s)
        return left


@dataclass(frozen=True, slots=True, kw_only=True)
class Peer:
    """The far end by its literal address."""

    address: str
    port: int

    @property
    def family(self) -> int:
        """Return 4 or 6."""
        return 6 if ":" in self.address else 4


def translate(error: OSError, address: str, *, after_s: float, count: int = 0) -> CannotMeasure:
    """Return our error for the system's, the most specific kind first."""
    if isinstance(error, ssl.SSLError):
        told = (getattr(error, name, None) for name in ("verify_message", "reason"))
        problem = next(filter(None, told), str(error))
        kind = kind_of(error)
        return TlsFault(address=address, problem=problem, **({"kind": kind} if kind else {}))
    if isinstance(error, TimeoutError):
        return TimedOut(address=address, after_s=after_s)
    if isinstance(error, ConnectionRefusedError):
        return Refused(address=address)
    if isinstance(error, ConnectionError):
        return ClosedEarly(address=address, bytes=count)
    if isinstance(error, PermissionError):
        return RightMissing(right="network access", purpose=f"a connection to {address}")
    return _by_number(error, address)


def _by_number(error: OSError, address: str) -> CannotMeasure:
    if error.errno in {errno.ENETUNREACH, errno.EHOSTUNREACH}:
        return NoRoute(address=address)
    if error.errno == errno.EADDRNOTAVAIL:
        return NoAddress(interface="under test")
    if error.errno == errno.ENETDOWN:
        return InterfaceDown(interface="under test")
    return BadReply(address=address, problem=error.strerror or type(error).__name__)


def connect(
    peer: Peer,
    binding: Binding,
    deadline: Deadline,
    *,
    congestion_control: str | None = None,
    receive_buffer_bytes: int | None = None,
) -> socket.socket:
    """Return a TCP connection made from the tested interface.

    The socket is bound before it connects: an option set afterwards would let the handshake take
    another way. A receive buffer given fixes the window; without one the system sizes it. Raises
    the CannotMeasure kinds of `translate`, and NoInterface.
    """
    family = socket.AF_INET6 if peer.family == 6 else socket.AF_INET
    sock = socket.socket(family, socket.SOCK_STREAM)
    try:
        bind(sock, binding, peer)
        if congestion_control is not None:
            sock.setsockopt(socket.IPPROTO_TCP, _TCP_CONGESTION, congestion_control.encode())
        if receive_buffer_bytes is not None:
            sock.setsockopt(socket.SOL_SOCKET, socket.SO_RCVBUF, receive_buffer_bytes)
        sock.setsockopt(socket.IPPROTO_TCP, socket.TCP_NODELAY, 1)
        sock.settimeout(deadline.left_s(peer.address))
        sock.connect(sockaddr(peer))
    except OSError as error:
        sock.close()
        raise translate(error, peer.address, after_s=deadline.within_s) from error
    except CannotMeasure:
        sock.close()
        raise
    return sock


def bind(sock: socket.socket, binding: Binding, peer: Peer) -> None:
    """Tie a socket to the interface and own address under test."""
    if binding.interface is not None:
        _bind_interface(sock, binding.interface, peer)
    source = binding.source(peer.family)
    if source is not None:
        sock.bind(sockaddr(Peer(address=source, port=0)))


def _bind_interface(sock: socket.socket, interface: str, peer: Peer) -> None:
    try:
        if sys.platform == "linux":
            sock.setsockopt(socket.SOL_SOCKET, _SO_BINDTODEVICE, interface.encode() + b"\0")
        elif sys.platform == "darwin":
            level, option = (
                (socket.IPPROTO_IPV6, _IPV6_BOUND_IF)
                if peer.family == 6
                else (socket.IPPROTO_IP, _IP_BOUND_IF)
            )
            sock.setsockopt(level, option, socket.if_nametoindex(interface))
    except PermissionError as error:
        purpose = f"a connection from {interface}"
        raise RightMissing(right="binding to an interface", purpose=purpose) from error
    except OSError as error:
        raise NoInterface(interface=interface) from error


def sockaddr(peer: Peer) -> tuple[str, int] | tuple[str, int, int, int]:
    """Return a literal address as sockets take it, with the zone of a link-local one."""
    flags = socket.AI_NUMERICHOST | socket.AI_NUMERICSERV
    found = socket.getaddrinfo(
        peer.address, peer.port, type=socket.SOCK_STREAM, proto=socket.IPPROTO_TCP, flags=flags
    )
    one: tuple[str, int] | tuple[str, int, int, int] = found[0][4]  # type: ignore[assignment]
    return one


def secure(
    sock: socket.socket, context: ssl.SSLContext, hostname: str, peer: Peer, deadline: Deadline
) -> ssl.SSLSocket:
    """Return the connection under TLS, its certificate checked; closes it where that fails."""
    try:
        sock.settimeout(deadline.left_s(peer.address))
        return context.wrap_socket(sock, server_hostname=hostname)
    except (OSError, ValueError) as error:
        sock.close()
        if isinstance(error, OSError):
            raise translate(error, peer.address, after_s=deadline.within_s) from error
        raise TlsFault(address=peer.address, problem=str(error)) from error
    except CannotMeasure:
        sock.close()
        raise


class DeadlineStream:
    """A connection as httpcore wants its network stream, with our own idea of waiting.

    The time-outs that httpcore passes are per call, so an answer that drips could last for ever;
    they are ignored in favour of the deadline. Faults leave as our errors.
    """

    def __init__(
        self,
        sock: socket.socket,
        peer: Peer,
        deadline: Deadline,
        now_s: Callable[[], float],
        *,
        count: int = 0,
    ) -> None:
        self._sock = sock
        self._deadline = deadline
        self._now_s = now_s
        self.peer = peer
        self.received = count
        self.ended = False
        self.first_byte_s: float | None = None
        self.handed_over = False

    def read(self, max_bytes: int, timeout: float | None = None) -> bytes:  # noqa: ARG002 - see class
        """Return up to `max_bytes`, b"" at the end of the stream."""
        try:
            self._sock.settimeout(self._deadline.left_s(self.peer.address))
            data = self._sock.recv(max_bytes)
        except OSError as error:
            raise self._fault(error) from error
        self.ended = not data
        self.received += len(data)
        if self.first_byte_s is None:
            self.first_byte_s = self._now_s()
        return data

    def write(self, buffer: bytes, timeout: float | None = None) -> None:  # noqa: ARG002 - see class
        """Send all of the buffer."""
        try:
            self._sock.settimeout(self._deadline.left_s(self.peer.address))
            self._sock.sendall(buffer)
        except OSError as error:
            raise self._fault(error) from error

    def close(self) -> None:
        """Close the connection unless it was handed over."""
        if not self.handed_over:
            self._sock.close()

    def start_tls(
        self,
        ssl_context: ssl.SSLContext,
        server_hostname: str | None = None,
        timeout: float | None = None,  # noqa: ARG002 - see class
    ) -> DeadlineStream:
        """Return the same connection under TLS."""
        hostname = server_hostname or self.peer.address
        sock = secure(self._sock, ssl_context, hostname, self.peer, self._deadline)
        return DeadlineStream(sock, self.peer, self._deadline, self._now_s)

    def get_extra_info(self, info: str) -> object:
        """Return what httpcore asks of a stream, None for what it does without."""
        if info == "socket":
            return self._sock
        if info == "ssl_object":
            return self._sock if isinstance(self._sock, ssl.SSLSocket) else None
        return None

    def hand_over(self) -> socket.socket:
        """Return the socket and leave it open when the HTTP layer closes."""
        self.handed_over = True
        return self._sock

    def _fault(self, error: OSError) -> CannotMeasure:
        return translate(
            error, self.peer.address, after_s=self._deadline.within_s, count=self.received
        )
