"""Router solicitations and advertisements (RFC 4861 §4.1, §4.2) with the options that hosts read.

Options: prefix and MTU (RFC 4861 §4.6), routes (RFC 4191), resolvers and search names (RFC 8106),
the captive portal's API (RFC 8910 §2.3), the prefix of a translator (RFC 8781).
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from enum import IntEnum
from ipaddress import IPv6Address, IPv6Network
from typing import Any

from agent.codec import ipv6
from agent.codec.dhcp_options import uri
from agent.codec.domain_list import decode_domains, encode_domains
from agent.codec.ipv6 import Packet
from agent.codec.reader import Reader
from agent.errors import MalformedMessage

NAME = "router advertisement"
SOLICIT, ADVERTISE = 133, 134
"""ICMPv6 types (RFC 4861 §4.1, §4.2)."""

ALL_NODES, ALL_ROUTERS = "ff02::1", "ff02::2"
NEAR_HOPS = 255
"""A packet that a router forwarded arrives with less, and is no neighbour's (RFC 4861 §6.1.2)."""

SOLICIT_EVERY_S = 4.0
"""RTR_SOLICITATION_INTERVAL (RFC 4861 §10)."""

INFINITE_S = 0xFFFF_FFFF
UNIT = 8
MOST_OPTIONS = 64


class Option(IntEnum):
    """Kinds of options."""

    SOURCE_HARDWARE = 1
    PREFIX = 3
    MTU = 5
    ROUTE = 24
    RESOLVERS = 25
    DOMAINS = 31
    CAPTIVE_PORTAL = 37
    TRANSLATOR = 38


class Preference(IntEnum):
    """How much a router is preferred to others (RFC 4191 §2.1); 2 is reserved and read as 0."""

    MEDIUM = 0
    HIGH = 1
    LOW = 3


@dataclass(frozen=True, slots=True, kw_only=True)
class PrefixInfo:
    """A prefix of the link; its bits past the length are cleared, lifetimes in seconds."""

    network: str
    prefix: int
    on_link: bool = True
    autonomous: bool = True
    valid_s: int = 2_592_000
    preferred_s: int = 604_800


@dataclass(frozen=True, slots=True, kw_only=True)
class RouteInfo:
    """A further route by this router (RFC 4191 §2.3)."""

    network: str
    prefix: int
    preference: int = Preference.MEDIUM
    lifetime_s: int = 1800


@dataclass(frozen=True, slots=True, kw_only=True)
class RouterAdvertisement:
    """One advertisement; `router_lifetime_s` 0 says "no default router" (RFC 4861 §4.2).

    `dns_lifetime_s` is the shortest of the resolvers' lifetimes. `faulty_options` are the kinds
    whose values break the form of their standard; they are otherwise passed over.
    """

    hop_limit: int = 64
    managed: bool = False
    other: bool = False
    preference: int = Preference.MEDIUM
    router_lifetime_s: int = 1800
    reachable_ms: int = 0
    retransmit_ms: int = 0
    source_hardware: bytes | None = None
    mtu_bytes: int | None = None
    prefixes: tuple[PrefixInfo, ...] = ()
    routes: tuple[RouteInfo, ...] = ()
    dns: tuple[str, ...] = ()
    dns_lifetime_s: int | None = None
    domains: tuple[str, ...] = ()
    captive_api: str | None = None
    translator: str | None = None
    faulty_options: tuple[int, ...] = ()


def from_neighbour(packet: Packet) -> bool:
    """Tell whether a packet passes the checks of RFC 4861 §6.1.2 that lie in its header.

    Hop limit 255, a link-local source, ICMPv6 with a right checksum.
    """
    near = packet.hop_limit == NEAR_HOPS and IPv6Address(packet.source).is_link_local
    return near and packet.next_header == ipv6.ICMPV6 and packet.intact


def decode(data: bytes) -> RouterAdvertisement:
    """Return the advertisement in an ICMPv6 message.

    Raises MalformedMessage for another type or code, an end that comes too early, an option of no
    length (RFC 4861 §6.1.2), or more than 64 options.
    """
    reader = Reader(data, message=NAME)
    if (reader.u8(), reader.u8()) != (ADVERTISE, 0):
        reader.fail("another type or code")
    reader.u16()
    hop_limit, flags, lifetime_s = reader.u8(), reader.u8(), reader.u16()
    found: dict[str, Any] = {
        "hop_limit": hop_limit,
        "managed": bool(flags & 0x80),
        "other": bool(flags & 0x40),
        "preference": _preference(flags),
        "router_lifetime_s": lifetime_s,
        "reachable_ms": reader.u32(),
        "retransmit_ms": reader.u32(),
    }
    return _with_options(found, _options(reader))


def _with_options(found: dict[str, Any], options: list[tuple[int, bytes]]) -> RouterAdvertisement:
    faulty = []
    for kind, value in options:
        read = _READ.get(kind)
        try:
            new = read(value) if read else {}
        except (MalformedMessage, ValueError):
            faulty.append(kind)
            continue
        for name, one in new.items():
            _take(found, name, one)
    return RouterAdvertisement(**found, faulty_options=tuple(dict.fromkeys(faulty)))


def _take(found: dict[str, Any], name: str, one: Any) -> None:
    """Add what an option says: lists grow, of lifetimes the shortest counts, else the first."""
    old = found.get(name)
    if isinstance(old, tuple) and isinstance(one, tuple):
        found[name] = old + one
    elif isinstance(old, int) and isinstance(one, int) and name.endswith("_s"):
        found[name] = min(old, one)
    else:
        found.setdefault(name, one)


def _options(reader: Reader) -> list[tuple[int, bytes]]:
    options: list[tuple[int, bytes]] = []
    while reader.remaining:
        kind, units = reader.u8(), reader.u8()
        if not units:
            reader.fail("an option of no length")
        if len(options) == MOST_OPTIONS:
            reader.fail("too many options")
        options.append((kind, reader.bytes(units * UNIT - 2)))
    return options


def _preference(flags: int) -> int:
    found = flags >> 3 & 3
    return Preference.MEDIUM if found == 2 else found


def _prefix(value: bytes) -> dict[str, Any]:
    reader = _of_length(value, 30)
    prefix, flags, valid_s, preferred_s = reader.u8(), reader.u8(), reader.u32(), reader.u32()
    reader.u32()
    told = PrefixInfo(
        network=_network(reader.bytes(16), prefix),
        prefix=prefix,
        on_link=bool(flags & 0x80),
        autonomous=bool(flags & 0x40),
        valid_s=valid_s,
        preferred_s=preferred_s,
    )
    return {"prefixes": (told,)}


def _route(value: bytes) -> dict[str, Any]:
    """Return a route; its prefix may be cut to 0 or 8 octets (RFC 4191 §2.3)."""
    reader = Reader(value, message="route option")
    prefix, flags, lifetime_s = reader.u8(), reader.u8(), reader.u32()
    if flags >> 3 & 3 == 2 or reader.remaining > 16:
        reader.fail("a reserved preference or length")
    if reader.remaining * 8 < prefix:
        reader.fail(f"{prefix} bits in {reader.remaining} octets")
    network = _network(reader.rest().ljust(16, b"\0"), prefix)
    preference = _preference(flags)
    told = RouteInfo(network=network, prefix=prefix, preference=preference, lifetime_s=lifetime_s)
    return {"routes": (told,)}


def _mtu(value: bytes) -> dict[str, Any]:
    reader = _of_length(value, 6)
    reader.u16()
    return {"mtu_bytes": reader.u32()}


def _resolvers(value: bytes) -> dict[str, Any]:
    reader = Reader(value, message="resolver option")
    reader.u16()
    lifetime_s = reader.u32()
    if not reader.remaining or reader.remaining % 16:
        reader.fail("no whole addresses")
    found = []
    while reader.remaining:
        found.append(str(IPv6Address(reader.bytes(16))))
    return {"dns": tuple(found), "dns_lifetime_s": lifetime_s}


def _domains(value: bytes) -> dict[str, Any]:
    reader = Reader(value, message="domain option")
    reader.bytes(6)
    return {"domains": decode_domains(reader.rest())}


def _portal(value: bytes) -> dict[str, Any]:
    found = uri(value)
    if found is None:
        raise ValueError
    return {"captive_api": found}


_TRANSLATOR_BITS = (96, 64, 56, 48, 40, 32)
"""By the code of the prefix length (RFC 8781 §4)."""


def _translator(value: bytes) -> dict[str, Any]:
    reader = _of_length(value, 14)
    code = reader.u16() & 0x7
    if code >= len(_TRANSLATOR_BITS):
        reader.fail(f"length code {code}")
    bits = _TRANSLATOR_BITS[code]
    return {"translator": f"{_network(reader.bytes(12).ljust(16, bytes(1)), bits)}/{bits}"}


def _hardware(value: bytes) -> dict[str, Any]:
    return {"source_hardware": _of_length(value, 6).rest()}


_READ: dict[int, Callable[[bytes], dict[str, Any]]] = {
    Option.SOURCE_HARDWARE: _hardware,
    Option.PREFIX: _prefix,
    Option.MTU: _mtu,
    Option.ROUTE: _route,
    Option.RESOLVERS: _resolvers,
    Option.DOMAINS: _domains,
    Option.CAPTIVE_PORTAL: _portal,
    Option.TRANSLATOR: _translator,
}


def _of_length(value: bytes, length: int) -> Reader:
    reader = Reader(value, message="router advertisement option")
    if len(value) != length:
        reader.fail(f"{len(value)} octets instead of {length}")
    return reader


def _network(packed: bytes, prefix: int) -> str:
    """Return a network with its host bits cleared. Raises ValueError for more than 128 bits."""
    return str(IPv6Network((packed, prefix), strict=False).network_address)


def encode(said: RouterAdvertisement) -> bytes:
    """Return the ICMPv6 message with checksum zero; faulty options are not written."""
    flags = said.managed << 7 | said.other << 6 | (said.preference & 3) << 3
    head = bytes((ADVERTISE, 0, 0, 0, said.hop_limit, flags)) + said.router_lifetime_s.to_bytes(2)
    return b"".join(
        (
            head,
            said.reachable_ms.to_bytes(4),
            said.retransmit_ms.to_bytes(4),
            *_written(said),
        )
    )


def _written(said: RouterAdvertisement) -> Iterable[bytes]:
    if said.source_hardware is not None:
        yield _option(Option.SOURCE_HARDWARE, said.source_hardware)
    yield from (_option(Option.PREFIX, _prefix_value(one)) for one in said.prefixes)
    if said.mtu_bytes is not None:
        yield _option(Option.MTU, bytes(2) + said.mtu_bytes.to_bytes(4))
    yield from (_option(Option.ROUTE, _route_value(one)) for one in said.routes)
    lifetime = (said.dns_lifetime_s or 0).to_bytes(4)
    if said.dns:
        packed = b"".join(IPv6Address(one).packed for one in said.dns)
        yield _option(Option.RESOLVERS, bytes(2) + lifetime + packed)
    if said.domains:
        yield _option(
            Option.DOMAINS, bytes(2) + INFINITE_S.to_bytes(4) + encode_domains(said.domains)
        )
    if said.captive_api is not None:
        yield _option(Option.CAPTIVE_PORTAL, said.captive_api.encode("ascii"))
    if said.translator is not None:
        network = IPv6Network(said.translator)
        code = _TRANSLATOR_BITS.index(network.prefixlen)
        # The lifetime stands in units of eight seconds above the code (RFC 8781 §4).
        word = (1800 // 8 << 3 | code).to_bytes(2)
        yield _option(Option.TRANSLATOR, word + network.network_address.packed[:12])


def _prefix_value(told: PrefixInfo) -> bytes:
    flags = told.on_link << 7 | told.autonomous << 6
    times = told.valid_s.to_bytes(4) + told.preferred_s.to_bytes(4)
    return bytes((told.prefix, flags)) + times + bytes(4) + IPv6Address(told.network).packed


def _route_value(told: RouteInfo) -> bytes:
    head = bytes((told.prefix, (told.preference & 3) << 3)) + told.lifetime_s.to_bytes(4)
    return head + IPv6Address(told.network).packed


def _option(kind: int, value: bytes) -> bytes:
    padded = value + bytes(-(len(value) + 2) % UNIT)
    return bytes((kind, (len(padded) + 2) // UNIT)) + padded


def solicitation(source: str, hardware_address: bytes) -> Packet:
    """Return the packet that asks all routers to speak (RFC 4861 §4.1).

    From "::" it names no hardware address, and every answer goes to all nodes.
    """
    named = source != "::"
    option = _option(Option.SOURCE_HARDWARE, hardware_address) if named else b""
    return _near(source, ALL_ROUTERS, bytes((SOLICIT, 0, 0, 0)) + bytes(4) + option)


def advertisement(source: str, said: RouterAdvertisement, to: str = ALL_NODES) -> Packet:
    """Return the packet with an advertisement."""
    return _near(source, to, encode(said))


def _near(source: str, destination: str, message: bytes) -> Packet:
    packet = Packet(
        source=source,
        destination=destination,
        next_header=ipv6.ICMPV6,
        hop_limit=NEAR_HOPS,
        payload=message,
    )
    return ipv6.with_checksum(packet, 2)
