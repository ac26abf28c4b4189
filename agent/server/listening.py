"""The server's two sockets, TCP and UDP, on the same address."""

from __future__ import annotations

import socket
from contextlib import ExitStack
from dataclasses import dataclass

from agent.codec.card import MAX_CONGESTION_CONTROL
from agent.errors import UsageError
from agent.server.options import ServeOptions
from agent.server.reflector import prepare

BACKLOG = 128
ANY_IPV6 = "::"


@dataclass(frozen=True, slots=True, kw_only=True)
class ServerAddress:
    """Where a server listens; `host` is as a client on the same machine may name it.

    `capacity_bps` is what its port carries, None where not known.
    """

    host: str
    port: int
    reflector_port: int
    secure: bool = False
    capacity_bps: float | None = None

    @property
    def url(self) -> str:
        """Return the server's URL without a path."""
        scheme = "https" if self.secure else "http"
        host = f"[{self.host}]" if ":" in self.host else self.host
        return f"{scheme}://{host}:{self.port}"

    @property
    def card_url(self) -> str:
        """Return the URL that tells an agent everything else."""
        return f"{self.url}/card"


def open_sockets(options: ServeOptions) -> tuple[socket.socket, socket.socket]:
    """Return the listening TCP socket and the bound UDP socket; raises UsageError."""
    family, host = _family(options.host)
    with ExitStack() as opened:
        tcp = opened.enter_context(_bound(family, socket.SOCK_STREAM, host, options.port))
        tcp.listen(BACKLOG)
        tcp.setblocking(False)
        udp = opened.enter_context(_bound(family, socket.SOCK_DGRAM, host, options.reflector_port))
        prepare(udp)
        opened.pop_all()
    return tcp, udp


def open_answering(options: ServeOptions) -> tuple[socket.socket, socket.socket] | None:
    """Return the TCP and UDP sockets of the answering port, None without one; raises UsageError."""
    if options.answer_port is None:
        return None
    family, host = _family(options.host)
    with ExitStack() as opened:
        port = options.answer_port
        tcp = opened.enter_context(_bound(family, socket.SOCK_STREAM, host, port))
        tcp.listen(BACKLOG)
        port = tcp.getsockname()[1]
        udp = opened.enter_context(_bound(family, socket.SOCK_DGRAM, host, port))
        opened.pop_all()
    return tcp, udp


def address_of(
    tcp: socket.socket, udp: socket.socket, *, secure: bool, capacity_bps: float | None
) -> ServerAddress:
    """Return the address of bound sockets; the wildcard addresses become loopback."""
    host, port = tcp.getsockname()[:2]
    return ServerAddress(
        host={"::": "127.0.0.1", "0.0.0.0": "127.0.0.1"}.get(host, host),  # noqa: S104 - compared
        port=port,
        reflector_port=udp.getsockname()[1],
        secure=secure,
        capacity_bps=capacity_bps,
    )


def congestion_control(tcp: socket.socket) -> str | None:
    """Return what the connections of a listening socket run under, None where not told."""
    if not hasattr(socket, "TCP_CONGESTION"):
        return None
    name = tcp.getsockopt(socket.IPPROTO_TCP, socket.TCP_CONGESTION, MAX_CONGESTION_CONTROL)
    return name.partition(b"\0")[0].decode("ascii", "replace") or None


def _family(host: str) -> tuple[socket.AddressFamily, str]:
    if host == ANY_IPV6 and not socket.has_dualstack_ipv6():
        return socket.AF_INET, "0.0.0.0"  # noqa: S104 - a server for everyone
    try:
        found = socket.getaddrinfo(host, None, type=socket.SOCK_STREAM, flags=socket.AI_PASSIVE)
    except OSError as error:
        raise _cannot_listen(host, error) from error
    return found[0][0], str(found[0][4][0])


def _bound(
    family: socket.AddressFamily, kind: socket.SocketKind, host: str, port: int
) -> socket.socket:
    sock = socket.socket(family, kind)
    try:
        if kind == socket.SOCK_STREAM:
            sock.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        if family == socket.AF_INET6:
            only = 0 if host == ANY_IPV6 else 1
            sock.setsockopt(socket.IPPROTO_IPV6, socket.IPV6_V6ONLY, only)
        sock.bind((host, port))
    except OSError as error:
        sock.close()
        raise _cannot_listen(f"{host} port {port}", error) from error
    return sock


def _cannot_listen(where: str, error: OSError) -> UsageError:
    return UsageError(
        problem=f"The server cannot listen on {where}: {error.strerror or error}.",
        remedy="Choose another address or port.",
    )
