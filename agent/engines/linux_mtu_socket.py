"""Sockets on Linux that tell what size a path carries: packets kept whole, TCP's own agreement."""

from __future__ import annotations

import socket

from agent.clock import SystemClock
from agent.engines.connecting import Deadline, Peer, connect
from agent.engines.linux_ancillary import SOL_IPV6
from agent.engines.tcp_counters import (
    IP_HEADER_BYTES,
    TCP_HEADER_BYTES,
    header_bytes,
    read_tcp_info,
)
from agent.measurements import TcpSegments
from agent.ports.binding import Binding

IP_MTU_DISCOVER = 10
IPV6_MTU_DISCOVER = 23
PMTUDISC_PROBE = 3
"""linux/in.h and linux/in6.h: do not cut, and heed no path MTU learnt before, only the port's."""


def keep_whole(sock: socket.socket, family: int) -> None:
    """Have packets leave whole, whatever this system has learnt of the path; raises OSError."""
    level, option = (
        (socket.SOL_IP, IP_MTU_DISCOVER) if family == 4 else (SOL_IPV6, IPV6_MTU_DISCOVER)
    )
    sock.setsockopt(level, option, PMTUDISC_PROBE)


def read_segments(binding: Binding, address: str, port: int, within_s: float) -> TcpSegments | None:
    """Return what TCP agrees on with a listener, None where the kernel tells nothing.

    Raises CannotMeasure where no connection is made.
    """
    peer = Peer(address=address, port=port)
    with connect(peer, binding, Deadline(SystemClock(), within_s)) as sock:
        info = read_tcp_info(sock)
    if info is None or info.send_mss_bytes is None:
        return None
    headers = header_bytes(info, peer.family) or 0
    return TcpSegments(
        send_mss_bytes=info.send_mss_bytes,
        option_bytes=max(0, headers - IP_HEADER_BYTES[peer.family] - TCP_HEADER_BYTES),
        advertised_mss_bytes=info.advertised_mss_bytes,
        path_mtu_bytes=info.path_mtu_bytes,
    )
