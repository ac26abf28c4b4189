"""One row of Windows' forwarding table for IPv4, as GetBestRoute fills it in.

MIB_IPFORWARDROW of ipmib.h: fourteen numbers of four octets in the machine's order (little-endian
wherever Windows runs), the addresses among them in network order. From memory of the vendor's
reference; never seen on a real system.
"""

from __future__ import annotations

import struct
from dataclasses import dataclass
from ipaddress import IPv4Address

from agent.codec.reader import Reader

ROW = struct.Struct("<4s4sI4sIIIIIIIIII")
"""Destination, mask, policy, next hop, index, type, protocol, age, next AS, five metrics."""

OTHER, INVALID, DIRECT, INDIRECT = 1, 2, 3, 4
"""MIB_IPROUTE_TYPE."""


@dataclass(frozen=True, slots=True, kw_only=True)
class ForwardRow:
    """The best way to an address; `gateway` is None where it is on the link itself."""

    index: int
    gateway: str | None
    default: bool


def decode_row(data: bytes) -> ForwardRow | None:
    """Return a row, None for one that the system calls invalid. Raises MalformedMessage."""
    reader = Reader(data, "Windows forwarding row")
    destination, mask, _, hop, index, kind, *_ = ROW.unpack(reader.bytes(ROW.size))
    if kind == INVALID:
        return None
    gateway = IPv4Address(hop)
    nowhere = kind == DIRECT or gateway.is_unspecified
    return ForwardRow(
        index=index,
        gateway=None if nowhere else str(gateway),
        default=destination == mask == bytes(4),
    )
