"""What Windows writes when an echo it sent was answered, or refused on the way.

The structures are ICMP_ECHO_REPLY (64-bit form) and ICMPV6_ECHO_REPLY of ipexport.h, the status
numbers those of IP_STATUS; both from memory of the vendor's reference, never seen on a real system.
"""

from __future__ import annotations

import struct
from dataclasses import dataclass
from ipaddress import IPv4Address, IPv6Address

from agent.codec.reader import Reader

SUCCESS = 0
TIMED_OUT = 11_010

_REPLY = struct.Struct("<4sIIHHQ16x")
_REPLY_6 = struct.Struct("<2xI16sI2xII")
_LARGEST = 65_535

_ICMP = {
    11_002: (3, 0),
    11_003: (3, 1),
    11_004: (3, 2),
    11_005: (3, 3),
    11_009: (3, 4),
    11_013: (11, 0),
    11_014: (11, 1),
    11_015: (12, 0),
}
_ICMP_6 = {
    11_002: (1, 0),
    11_003: (1, 3),
    11_004: (1, 1),
    11_005: (1, 4),
    11_009: (2, 0),
    11_013: (3, 0),
    11_014: (3, 1),
    11_015: (4, 0),
}


@dataclass(frozen=True, slots=True, kw_only=True)
class EchoStatus:
    """How one echo ended: who answered, the system's status, and its own whole milliseconds.

    `data` is what an echo reply returned; IPv4 only, where the structure says where it stands.
    """

    source: str
    status: int
    rtt_ms: int
    data: bytes = b""


def decode_echo_reply(buffer: bytes, base: int) -> EchoStatus:
    """Return the first reply in the buffer of IcmpSendEcho2Ex, which stood at address `base`.

    Raises MalformedMessage where the buffer is too short or points outside itself.
    """
    reader = Reader(buffer, "Windows echo reply")
    address, status, rtt_ms, size, _, pointer = _REPLY.unpack(reader.bytes(_REPLY.size))
    returned = status == SUCCESS and size > 0
    start = pointer - base
    if returned and not _REPLY.size <= start <= len(buffer) - size:
        reader.fail("the data lie outside the buffer")
    return EchoStatus(
        source=str(IPv4Address(address)),
        status=status,
        rtt_ms=rtt_ms,
        data=buffer[start : start + size] if returned else b"",
    )


def decode_echo_reply_6(buffer: bytes) -> EchoStatus:
    """Return the reply in the buffer of Icmp6SendEcho2; raises MalformedMessage."""
    reader = Reader(buffer, "Windows echo reply")
    _, address, _, status, rtt_ms = _REPLY_6.unpack(reader.bytes(_REPLY_6.size))
    return EchoStatus(source=str(IPv6Address(address)), status=status, rtt_ms=rtt_ms)


def icmp_of(status: int, family: int) -> tuple[int, int] | None:
    """Return the ICMP type and code a status stands for, None where it stands for none."""
    return (_ICMP if family == 4 else _ICMP_6).get(status)


def buffer_bytes(family: int, payload_bytes: int) -> int:
    """Return the room the call wants: reply, payload, an ICMP error, an IO_STATUS_BLOCK."""
    head = _REPLY.size if family == 4 else _REPLY_6.size
    return min(head + payload_bytes + 8 + 16, _LARGEST)
