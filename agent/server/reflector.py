"""The STAMP session-reflector (RFC 8762 §4.3, stateful, unauthenticated) on one UDP socket.

It answers only sources that hold a grant, never with more octets than it was sent. Receive stamps
are the kernel's where the system gives them; the answer is stamped when all else is done.
"""

from __future__ import annotations

import socket
import struct
import sys
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Never

from agent.clock import Clock, unix_ns
from agent.codec.stamp import (
    ErrorEstimate,
    ReflectorPacket,
    SenderPacket,
    decode_sender,
    encode_reflector,
    ntp_from_unix_ns,
)
from agent.errors import MalformedMessage
from agent.server.peer import plain_address
from agent.server.sessions import SessionBook
from agent.units import NS_PER_S

# Larger than any packet that crosses an Ethernet in one piece; what is longer is not answered.
MAX_PACKET = 2_048
# Whether an outside source disciplines this clock is not known: S = 0, and 2^(22-32) s ≈ 1 ms.
OWN_ERROR = ErrorEstimate(synchronized=False, ptp=False, scale=22, multiplier=1)
STAMP_TTL = 255  # RFC 8762 takes it from RFC 5357 §4.2.1 (from memory): hops can be counted
# A burst that comes while the processor is elsewhere waits here; Linux grants what rmem_max allows.
RECEIVE_BUFFER = 1_048_576

_SO_TIMESTAMPNS = 35  # asm-generic/socket.h; Python names it only from 3.13 on
_IP_RECVTTL = 12  # linux/in.h, as the next; Python 3.11 names neither
_IP_PKTINFO = 8
_TIMESPEC = struct.Struct("@qq")
_INT = struct.Struct("@i")
_NTP = struct.Struct("!Q")
_TIMESTAMP_AT = 4  # RFC 8762 §4.3.1 Figure 5: behind the sequence number

Ancillary = Iterable[tuple[int, int, bytes]]


def prepare(sock: socket.socket) -> None:
    """Ask the kernel for receive stamps, hop limits and the address a packet came to."""
    sock.setsockopt(socket.SOL_SOCKET, socket.SO_RCVBUF, RECEIVE_BUFFER)
    if sys.platform != "linux":
        return
    sock.setsockopt(socket.SOL_SOCKET, _SO_TIMESTAMPNS, 1)
    sock.setsockopt(socket.IPPROTO_IP, _IP_RECVTTL, 1)
    sock.setsockopt(socket.IPPROTO_IP, socket.IP_TTL, STAMP_TTL)
    if sock.family == socket.AF_INET6:
        sock.setsockopt(socket.IPPROTO_IPV6, socket.IPV6_RECVHOPLIMIT, 1)
        sock.setsockopt(socket.IPPROTO_IPV6, socket.IPV6_RECVPKTINFO, 1)
        sock.setsockopt(socket.IPPROTO_IPV6, socket.IPV6_UNICAST_HOPS, STAMP_TTL)
    else:
        sock.setsockopt(socket.IPPROTO_IP, _IP_PKTINFO, 1)


@dataclass(frozen=True, slots=True, kw_only=True)
class Arrival:
    """One packet off the socket: when it came (nanoseconds since 1970), whence, with what TTL."""

    data: bytes
    address: str
    at_ns: int
    hop_limit: int


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


def reply_to(arrival: Arrival, book: SessionBook, now_s: float) -> bytearray | None:
    """Return the answer to a packet, exactly as long as it and not yet stamped.

    None where no answer is due.
    """
    try:
        packet = decode_sender(arrival.data)
    except MalformedMessage:
        return None
    sequence = book.arrive(arrival.address, packet.ssid, packet.sequence, now_s)
    if sequence is None:
        return None
    return bytearray(encode_reflector(_reflected(packet, arrival, sequence), len(arrival.data)))


def _reflected(packet: SenderPacket, arrival: Arrival, sequence: int) -> ReflectorPacket:
    """Return the fields of RFC 8762 §4.3.1 Figure 5, all but the time of sending."""
    return ReflectorPacket(
        sequence=sequence,
        timestamp=0,
        error=OWN_ERROR,
        ssid=packet.ssid,
        receive_timestamp=ntp_from_unix_ns(arrival.at_ns),
        sender_sequence=packet.sequence,
        sender_timestamp=packet.timestamp,
        sender_error=packet.error,
        sender_ttl=arrival.hop_limit,
    )


def _send(
    sock: socket.socket, reply: bytearray, ancillary: list[tuple[int, int, bytes]], to: object
) -> None:
    try:
        _NTP.pack_into(reply, _TIMESTAMP_AT, ntp_from_unix_ns(unix_ns()))
        sock.sendmsg([reply], ancillary, 0, to)  # type: ignore[arg-type]  # as recvmsg gave it
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
