"""The STAMP session-reflector (RFC 8762 §4.3) on one UDP socket.

Receive stamps are the kernel's where the system gives them; an answer is stamped when all else but
its HMAC is done.
"""

from __future__ import annotations

import socket
import struct
import sys
from collections.abc import Iterable
from typing import Never

from agent.clock import Clock, unix_ns
from agent.codec.stamp import ntp_from_unix_ns
from agent.server.peer import plain_address
from agent.server.reflection import Arrival, Reply, reply_to
from agent.server.sessions import SessionBook
from agent.units import NS_PER_S

# Larger than any packet that crosses an Ethernet in one piece; what is longer is not answered.
MAX_PACKET = 2_048
STAMP_TTL = 255  # RFC 8762 takes it from RFC 5357 §4.2.1 (from memory): hops can be counted
# A burst that comes while the processor is elsewhere waits here; Linux grants what rmem_max allows.
RECEIVE_BUFFER = 1_048_576

_SO_TIMESTAMPNS = 35  # asm-generic/socket.h; Python names it only from 3.13 on
_IP_RECVTTL = 12  # linux/in.h, as the next; Python 3.11 names neither
_IP_PKTINFO = 8
_TIMESPEC = struct.Struct("@qq")
_IP_MTU_DISCOVER = 10
_IPV6_MTU_DISCOVER = 23
_PMTUDISC_PROBE = 3
_INT = struct.Struct("@i")

Ancillary = Iterable[tuple[int, int, bytes]]


def prepare(sock: socket.socket) -> None:
    """Ask the kernel for receive stamps, hop limits and the address a packet came to.

    Answers leave whole and are never cut into fragments, so that they tell what size the way back
    carries (RFC 8899 §3 item 1).
    """
    sock.setsockopt(socket.SOL_SOCKET, socket.SO_RCVBUF, RECEIVE_BUFFER)
    if sys.platform != "linux":
        return
    sock.setsockopt(socket.SOL_SOCKET, _SO_TIMESTAMPNS, 1)
    sock.setsockopt(socket.IPPROTO_IP, _IP_RECVTTL, 1)
    sock.setsockopt(socket.IPPROTO_IP, socket.IP_TTL, STAMP_TTL)
    sock.setsockopt(socket.IPPROTO_IP, _IP_MTU_DISCOVER, _PMTUDISC_PROBE)
    if sock.family == socket.AF_INET6:
        sock.setsockopt(socket.IPPROTO_IPV6, socket.IPV6_RECVHOPLIMIT, 1)
        sock.setsockopt(socket.IPPROTO_IPV6, socket.IPV6_RECVPKTINFO, 1)
        sock.setsockopt(socket.IPPROTO_IPV6, socket.IPV6_UNICAST_HOPS, STAMP_TTL)
        sock.setsockopt(socket.IPPROTO_IPV6, _IPV6_MTU_DISCOVER, _PMTUDISC_PROBE)
    else:
        sock.setsockopt(socket.IPPROTO_IP, _IP_PKTINFO, 1)


def reflect(sock: socket.socket, book: SessionBook, clock: Clock) -> Never:
    """Answer packets on a blocking socket for as long as this process lives."""
    while True:
        try:
            data, ancillary, flags, source = sock.recvmsg(MAX_PACKET, 512)
        except OSError:
            continue
        if flags & socket.MSG_TRUNC:
            continue
        arrival = Arrival(
            data=data,
            address=plain_address(source[0]),
            at_ns=_stamp_ns(ancillary) or unix_ns(),
            hop_limit=_hop_limit(ancillary),
        )
        reply = reply_to(arrival, book, clock.monotonic_s())
        if reply is not None:
            _send(sock, reply, _from_same_address(ancillary), source)


def _send(
    sock: socket.socket, reply: Reply, ancillary: list[tuple[int, int, bytes]], to: object
) -> None:
    try:
        octets = reply.stamped(ntp_from_unix_ns(unix_ns()))
        sock.sendmsg([octets], ancillary, 0, to)  # type: ignore[arg-type]  # as recvmsg gave it
    except OSError:
        return


def _stamp_ns(ancillary: Ancillary) -> int | None:
    data = _find(ancillary, socket.SOL_SOCKET, _SO_TIMESTAMPNS, _TIMESPEC.size)
    if data is None:
        return None
    seconds, rest = _TIMESPEC.unpack(data)
    return int(seconds * NS_PER_S + rest)


def _hop_limit(ancillary: Ancillary) -> int:
    """Return the TTL or hop limit a packet arrived with; 0 where the system does not say."""
    data = _find(ancillary, socket.IPPROTO_IP, socket.IP_TTL, _INT.size)
    if data is None and hasattr(socket, "IPV6_HOPLIMIT"):
        data = _find(ancillary, socket.IPPROTO_IPV6, socket.IPV6_HOPLIMIT, _INT.size)
    return 0 if data is None else _INT.unpack(data)[0] & 0xFF


def _from_same_address(ancillary: Ancillary) -> list[tuple[int, int, bytes]]:
    """Return the control message that sends from the address the request came to.

    The interface index in it becomes 0: the way back is the routing table's choice.
    """
    if sys.platform != "linux":
        return []
    four = _find(ancillary, socket.IPPROTO_IP, _IP_PKTINFO, 12)
    six = _find(ancillary, socket.IPPROTO_IPV6, socket.IPV6_PKTINFO, 20)
    if six is not None:
        return [(socket.IPPROTO_IPV6, socket.IPV6_PKTINFO, six[:16] + bytes(4))]
    if four is not None:
        return [(socket.IPPROTO_IP, _IP_PKTINFO, bytes(4) + four[4:])]
    return []


def _find(ancillary: Ancillary, level: int, kind: int, size: int) -> bytes | None:
    for found_level, found_kind, data in ancillary:
        if (found_level, found_kind) == (level, kind) and len(data) >= size:
            return data[:size]
    return None
