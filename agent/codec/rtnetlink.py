"""Linux rtnetlink: the three dumps and one question that the facts need, as frozen values.

Layouts and numbers: Linux uapi headers netlink.h, rtnetlink.h, if_link.h, if_addr.h (RFC 3549
describes the protocol). Numbers are in the byte order of the machine; addresses in network order.
"""

from __future__ import annotations

import struct
import sys
from collections.abc import Iterator
from dataclasses import dataclass
from enum import IntEnum
from ipaddress import ip_address

from agent.codec.reader import Reader
from agent.errors import MalformedMessage

NAME = "netlink message"
HEADER = struct.Struct("=IHHII")
LINK = struct.Struct("=BxHiII")
ADDRESS = struct.Struct("=BBBBI")
ROUTE = struct.Struct("=BBBBBBBBI")
NEIGHBOUR = struct.Struct("=BxxxiHBB")
ATTRIBUTE = struct.Struct("=HH")
AF_INET, AF_INET6 = 2, 10
"""Linux's own numbers: other systems have another one for IPv6."""

FAMILIES = {AF_INET: 4, AF_INET6: 6}
MAIN_TABLE = 254
UNICAST = 1
FOREVER = 0xFFFFFFFF
NESTED_BITS = 0x3FFF


class Kind(IntEnum):
    """Message types."""

    ERROR = 2
    DONE = 3
    NEW_LINK = 16
    GET_LINK = 18
    NEW_ADDRESS = 20
    GET_ADDRESS = 22
    NEW_ROUTE = 24
    GET_ROUTE = 26
    NEW_NEIGHBOUR = 28
    GET_NEIGHBOUR = 30


REQUEST = 0x001
DUMP = 0x300


@dataclass(frozen=True, slots=True, kw_only=True)
class Message:
    """One message: its kind, the sequence number it answers, its body."""

    kind: int
    sequence: int
    body: bytes


@dataclass(frozen=True, slots=True, kw_only=True)
class LinkEntry:
    """One interface; `hardware_type` is ARPHRD_*, `kind` the driver's own word ("vlan", "veth").

    `parent_index` is IFLA_LINK, `master_index` the bridge or bond above, `vlan_id` the tag of a
    VLAN interface (IFLA_VLAN_ID). `carrier` is None where
    the interface is switched off. Counters are the 64-bit ones. `ipv6_flags` are IF_READY and the
    like of net/if_inet6.h, `advertised_mtu_bytes` what a router advertised (IFLA_INET6_RA_MTU).
    """

    index: int
    name: str
    hardware_type: int
    running: bool
    address: bytes = b""
    mtu_bytes: int | None = None
    kind: str | None = None
    parent_index: int | None = None
    master_index: int | None = None
    vlan_id: int | None = None
    carrier: bool | None = None
    carrier_changes: int | None = None
    received_bytes: int | None = None
    sent_bytes: int | None = None
    receive_errors: int | None = None
    transmit_errors: int | None = None
    ipv6_flags: int | None = None
    advertised_mtu_bytes: int | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class AddressEntry:
    """One address; `valid_s` and `preferred_s` are the times left, None never ends.

    `protocol` says which part of the kernel made it.
    """

    index: int
    family: int
    address: str
    prefix: int
    flags: int = 0
    protocol: int = 0
    valid_s: int | None = None
    preferred_s: int | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class RouteEntry:
    """One route; `destination` None is the default route, `gateway` None is on-link.

    `protocol` says who set it (RTPROT_RA is 9); `left_s` is the time left, None never ends.
    """

    family: int
    prefix: int
    destination: str | None = None
    gateway: str | None = None
    source: str | None = None
    index: int | None = None
    metric: int = 0
    table: int = MAIN_TABLE
    kind: int = UNICAST
    protocol: int = 0
    left_s: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class NeighbourEntry:
    """One neighbour of a port and its hardware address, empty where it is not known yet."""

    index: int
    family: int
    address: str
    hardware_address: bytes = b""


def messages(data: bytes) -> Iterator[Message]:
    """Yield the messages of one datagram. Raises MalformedMessage for a wrong length."""
    reader = Reader(data, message=NAME)
    while reader.remaining >= HEADER.size:
        length, kind, _flags, sequence, _port = HEADER.unpack(reader.bytes(HEADER.size))
        body = reader.bytes(length - HEADER.size)
        yield Message(kind=kind, sequence=sequence, body=body)
        reader.bytes(min(reader.remaining, _padding(length)))


def dump(kind: Kind, sequence: int) -> bytes:
    """Return a request for every entry of a kind."""
    body = LINK.pack(0, 0, 0, 0, 0)
    return HEADER.pack(HEADER.size + len(body), kind, REQUEST | DUMP, sequence, 0) + body


def ask_route(address: str, sequence: int) -> bytes:
    """Return the question how the system would reach an address."""
    packed = ip_address(address).packed
    family = AF_INET if len(packed) == 4 else AF_INET6
    body = ROUTE.pack(family, len(packed) * 8, 0, 0, 0, 0, 0, 0, 0)
    body += ATTRIBUTE.pack(ATTRIBUTE.size + len(packed), 1) + packed
    return HEADER.pack(HEADER.size + len(body), Kind.GET_ROUTE, REQUEST, sequence, 0) + body


def link_entry(body: bytes) -> LinkEntry:
    """Return the interface of a NEW_LINK message."""
    reader = Reader(body, message=NAME)
    _family, hardware_type, index, flags, _change = LINK.unpack(reader.bytes(LINK.size))
    found = _attributes(reader)
    up = bool(flags & 0x1)
    counted = _counters(found.get(23, b""))
    kind, tag = _kind(found.get(18))
    ipv6_flags, advertised_mtu = _of_ipv6(found.get(26, b""))
    return LinkEntry(
        index=index,
        name=found.get(3, b"").rstrip(b"\0").decode(errors="replace"),
        hardware_type=hardware_type,
        running=up and bool(flags & 0x40),
        address=found.get(1, b""),
        mtu_bytes=_u32(found.get(4)),
        kind=kind,
        parent_index=_u32(found.get(5)),
        master_index=_u32(found.get(10)),
        vlan_id=tag if kind == "vlan" else None,
        carrier=bool(found[33][:1] != b"\0") if up and 33 in found else None,
        carrier_changes=_u32(found.get(35)),
        received_bytes=counted[2],
        sent_bytes=counted[3],
        receive_errors=counted[4],
        transmit_errors=counted[5],
        ipv6_flags=ipv6_flags,
        advertised_mtu_bytes=advertised_mtu or None,
    )


def address_entry(body: bytes) -> AddressEntry | None:
    """Return the address of a NEW_ADDRESS message, None for other families."""
    reader = Reader(body, message=NAME)
    family, prefix, flags, _scope, index = ADDRESS.unpack(reader.bytes(ADDRESS.size))
    found = _attributes(reader)
    text = _address(found.get(2) or found.get(1))
    if family not in FAMILIES or text is None:
        return None
    cache = struct.unpack("=IIII", Reader(found[6], message=NAME).bytes(16)) if 6 in found else None
    return AddressEntry(
        index=index,
        family=FAMILIES[family],
        address=text,
        prefix=prefix,
        flags=_u32(found.get(8)) or flags,
        protocol=found.get(11, b"\0")[0] if found.get(11) else 0,
        valid_s=_left(cache, 1),
        preferred_s=_left(cache, 0),
    )


def route_entry(body: bytes) -> RouteEntry | None:
    """Return the route of a NEW_ROUTE message, None for other families."""
    reader = Reader(body, message=NAME)
    family, prefix, _src, _tos, table, protocol, _scope, kind, _flags = ROUTE.unpack(
        reader.bytes(ROUTE.size)
    )
    if family not in FAMILIES:
        return None
    found = _attributes(reader)
    gateway, index = _next_hop(found)
    return RouteEntry(
        family=FAMILIES[family],
        prefix=prefix,
        destination=_address(found.get(1)),
        gateway=gateway,
        source=_address(found.get(7)),
        index=index,
        metric=_u32(found.get(6)) or 0,
        table=_u32(found.get(15)) or table,
        kind=kind,
        protocol=protocol,
        left_s=_route_left_s(found.get(12)),
    )


def neighbour_entry(body: bytes) -> NeighbourEntry | None:
    """Return the neighbour of a NEW_NEIGHBOUR message, None for other families."""
    reader = Reader(body, message=NAME)
    family, index, _state, _flags, _kind_of = NEIGHBOUR.unpack(reader.bytes(NEIGHBOUR.size))
    found = _attributes(reader)
    text = _address(found.get(1))
    if family not in FAMILIES or text is None:
        return None
    return NeighbourEntry(
        index=index, family=FAMILIES[family], address=text, hardware_address=found.get(2, b"")
    )


def _next_hop(found: dict[int, bytes]) -> tuple[str | None, int | None]:
    """Return gateway and interface; of several paths (RTA_MULTIPATH) the first."""
    if 9 in found:
        reader = Reader(found[9], message=NAME)
        length, _flags, _hops, index = struct.unpack("=HBBi", reader.bytes(8))
        nested = _attributes(reader.limited(length - 8))
        return _address(nested.get(5)), index
    via = found.get(18)
    return _address(found.get(5)) or _address(via[2:] if via else None), _u32(found.get(4))


def _left(cache: tuple[int, ...] | None, place: int) -> int | None:
    return None if cache is None or cache[place] == FOREVER else cache[place]


TICKS_PER_S = 100
"""USER_HZ, in which rta_cacheinfo counts (linux/rtnetlink.h)."""


def _route_left_s(value: bytes | None) -> float | None:
    """Return rta_expires in seconds; zero is no end."""
    if value is None or len(value) < 12:
        return None
    (ticks,) = struct.unpack("=i", value[8:12])
    return ticks / TICKS_PER_S if ticks else None


def _of_ipv6(value: bytes) -> tuple[int | None, int | None]:
    """Return IFLA_INET6_FLAGS and IFLA_INET6_RA_MTU out of IFLA_AF_SPEC."""
    families = _attributes(Reader(value, message=NAME))
    found = _attributes(Reader(families.get(AF_INET6, b""), message=NAME))
    return _u32(found.get(1)), _u32(found.get(9))


def _attributes(reader: Reader) -> dict[int, bytes]:
    found: dict[int, bytes] = {}
    while reader.remaining >= ATTRIBUTE.size:
        length, kind = ATTRIBUTE.unpack(reader.bytes(ATTRIBUTE.size))
        if length < ATTRIBUTE.size:
            raise MalformedMessage(message=NAME, offset=reader.offset, problem="short attribute")
        found[kind & NESTED_BITS] = reader.bytes(length - ATTRIBUTE.size)
        reader.bytes(min(reader.remaining, _padding(length)))
    return found


def _padding(length: int) -> int:
    return -length % 4


def _u32(value: bytes | None) -> int | None:
    return struct.unpack("=I", value)[0] if value is not None and len(value) == 4 else None


def _address(value: bytes | None) -> str | None:
    return str(ip_address(value)) if value is not None and len(value) in (4, 16) else None


def _kind(value: bytes | None) -> tuple[str | None, int | None]:
    """Return IFLA_INFO_KIND, and the first number of the driver's own data (a VLAN's tag)."""
    if value is None:
        return None, None
    info = _attributes(Reader(value, message=NAME))
    name = info.get(1)
    data = _attributes(Reader(info.get(2, b""), message=NAME)).get(1, b"")
    kind = None if name is None else name.rstrip(b"\0").decode(errors="replace")
    return kind, int.from_bytes(data, sys.byteorder) if len(data) == 2 else None


def _counters(value: bytes) -> tuple[int | None, ...]:
    """Return the first six of rtnl_link_stats64: packets, bytes, errors, received then sent."""
    return struct.unpack("=6Q", value[:48]) if len(value) >= 48 else (None,) * 6
