"""The netlink socket: one request, all its answers, in the network namespace of this process."""

from __future__ import annotations

import socket
from collections.abc import Iterator

from agent.codec import rtnetlink
from agent.codec.rtnetlink import (
    AddressEntry,
    Kind,
    LinkEntry,
    Message,
    NeighbourEntry,
    RouteEntry,
)
from agent.errors import NoRoute, RightMissing

WAITING_S = 2.0
"""The kernel answers at once; this only bounds a kernel that does not."""

BUFFER = 1 << 18
MOST_DATAGRAMS = 10_000


def links() -> tuple[LinkEntry, ...]:
    """Return every interface."""
    bodies = _dumped(Kind.GET_LINK, Kind.NEW_LINK)
    return tuple(rtnetlink.link_entry(body) for body in bodies)


def addresses() -> tuple[AddressEntry, ...]:
    """Return every address of both families."""
    bodies = _dumped(Kind.GET_ADDRESS, Kind.NEW_ADDRESS)
    return tuple(entry for body in bodies if (entry := rtnetlink.address_entry(body)))


def routes() -> tuple[RouteEntry, ...]:
    """Return every route of both families."""
    bodies = _dumped(Kind.GET_ROUTE, Kind.NEW_ROUTE)
    return tuple(entry for body in bodies if (entry := rtnetlink.route_entry(body)))


def neighbours() -> tuple[NeighbourEntry, ...]:
    """Return every neighbour of both families that the system knows."""
    bodies = _dumped(Kind.GET_NEIGHBOUR, Kind.NEW_NEIGHBOUR)
    return tuple(entry for body in bodies if (entry := rtnetlink.neighbour_entry(body)))


def route_to(address: str) -> RouteEntry:
    """Return the route that an address would take now. Raises NoRoute."""
    answer = next(_exchange(rtnetlink.ask_route(address, 1), 1), None)
    entry = None
    if answer is not None and answer.kind == Kind.NEW_ROUTE:
        entry = rtnetlink.route_entry(answer.body)
    if entry is None:
        raise NoRoute(address=address)
    return entry


def _dumped(ask: Kind, answer: Kind) -> list[bytes]:
    return [m.body for m in _exchange(rtnetlink.dump(ask, 1), 1) if m.kind == answer]


def _exchange(request: bytes, sequence: int) -> Iterator[Message]:
    try:
        with socket.socket(socket.AF_NETLINK, socket.SOCK_RAW, socket.NETLINK_ROUTE) as sock:
            sock.settimeout(WAITING_S)
            sock.send(request)
            yield from _answers(sock, sequence)
    except OSError as error:
        raise RightMissing(right="netlink", purpose=f"reading the ports: {error}") from error


def _answers(sock: socket.socket, sequence: int) -> Iterator[Message]:
    for _ in range(MOST_DATAGRAMS):
        for message in rtnetlink.messages(sock.recv(BUFFER)):
            if message.sequence != sequence or message.kind == Kind.DONE:
                return
            yield message
