"""A router's advertisements as they are told, right or wrong; a real advertiser would refuse some.

Solicitations are answered at once, to all nodes, so that no time is lost at the start.
"""

from __future__ import annotations

import select
import socket
import struct
import time

from agent.codec import router_advertisement as ra
from agent.codec.router_advertisement import RouterAdvertisement
from agent.practice.simple import LARGEST, SO_BINDTODEVICE

EVERY_S = 60.0
ICMP6_FILTER = 1
"""RFC 3542 §3.2."""

READY_WITHIN_S = 5.0
RETRY_S = 0.02


def advertise(port: str, said: RouterAdvertisement) -> None:
    """Advertise on a port for ever: unasked now and then, and whenever a host solicits."""
    with socket.socket(socket.AF_INET6, socket.SOCK_RAW, socket.IPPROTO_ICMPV6) as sock:
        index = socket.if_nametoindex(port)
        sock.setsockopt(socket.SOL_SOCKET, SO_BINDTODEVICE, port.encode())
        sock.setsockopt(socket.IPPROTO_IPV6, socket.IPV6_MULTICAST_HOPS, ra.NEAR_HOPS)
        sock.setsockopt(socket.IPPROTO_ICMPV6, ICMP6_FILTER, only(ra.SOLICIT))
        group = socket.inet_pton(socket.AF_INET6, ra.ALL_ROUTERS) + struct.pack("@i", index)
        sock.setsockopt(socket.IPPROTO_IPV6, socket.IPV6_JOIN_GROUP, group)
        message, to = ra.encode(said), (ra.ALL_NODES, 0, 0, index)
        _send_once_there_is_an_address(sock, message, to)
        while True:
            if select.select((sock,), (), (), EVERY_S)[0]:
                sock.recv(LARGEST)
            sock.sendto(message, to)


def only(icmp_type: int) -> bytes:
    """Return the filter that lets one type of ICMPv6 through (RFC 3542 §3.2, bits set block)."""
    blocked = (1 << 256) - 1 ^ 1 << icmp_type
    return struct.pack("=8I", *((blocked >> 32 * word) & 0xFFFF_FFFF for word in range(8)))


def _send_once_there_is_an_address(
    sock: socket.socket, message: bytes, to: tuple[str, int, int, int]
) -> None:
    """Send as soon as the port has its address of the link. Raises OSError where it gets none."""
    deadline = time.monotonic() + READY_WITHIN_S
    while True:
        try:
            sock.sendto(message, to)
        except OSError:
            if time.monotonic() > deadline:
                raise
            time.sleep(RETRY_S)
        else:
            return
