"""Tying a socket to the interface under test, and the address forms of both families."""

from __future__ import annotations

import socket
from ipaddress import ip_address

from agent.ports.binding import Binding

FAMILIES = {4: socket.AF_INET, 6: socket.AF_INET6}

Sockaddr = tuple[str, int] | tuple[str, int, int, int]


def family_of(address: str) -> int:
    """Return 4 or 6 for an address, with or without a zone."""
    return ip_address(address.partition("%")[0]).version


def tie(sock: socket.socket, family: int, binding: Binding) -> None:
    """Bind a socket, made non-blocking, to the interface and the own address; raises OSError."""
    sock.setblocking(False)
    if binding.interface is not None:
        name = binding.interface.encode() + b"\0"
        sock.setsockopt(socket.SOL_SOCKET, socket.SO_BINDTODEVICE, name)
    own = binding.source(family)
    if own is not None:
        sock.bind(sockaddr(own, 0, family, binding.interface))


def sockaddr(address: str, port: int, family: int, interface: str | None) -> Sockaddr:
    """Return what the socket calls take; a link-local address gets its zone (RFC 4007 §11)."""
    if family == 4:
        return address, port
    plain, _, zone = address.partition("%")
    name = (zone or interface) if ip_address(plain).is_link_local else None
    return plain, port, 0, socket.if_nametoindex(name) if name else 0
