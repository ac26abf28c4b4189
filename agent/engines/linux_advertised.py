"""What Linux itself took of router advertisements, as netlink tells anyone who asks.

The raw advertisement stays with the kernel or a manager: what they made of it is all there is. A
DHCPv6 server cannot be asked from here, for a client's port 546 is below 1024 and privileged.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from ipaddress import IPv6Address, IPv6Network

from agent.codec.rtnetlink import (
    MAIN_TABLE,
    UNICAST,
    AddressEntry,
    LinkEntry,
    NeighbourEntry,
    RouteEntry,
)
from agent.measurements import AdvertisedView, HeldPrefix, HeldRouter

RECEIVED, MANAGED, OTHER = 0x20, 0x40, 0x80
"""IF_RA_RCVD, IF_RA_MANAGED, IF_RA_OTHERCONF (Linux net/if_inet6.h)."""

BY_ADVERTISEMENT = 9
"""RTPROT_RA (linux/rtnetlink.h)."""

SOURCE = "netlink"


def advertised_view(
    link: LinkEntry,
    addresses: Sequence[AddressEntry],
    routes: Sequence[RouteEntry],
    neighbours: Sequence[NeighbourEntry],
) -> AdvertisedView | None:
    """Return what the system made of advertisements on a port, None where it has no IPv6 there."""
    flags = link.ipv6_flags
    if flags is None:
        return None
    received = bool(flags & RECEIVED)
    near = [n for n in neighbours if n.index == link.index and n.family == 6]
    routers = tuple(_routers(link.index, routes, near))
    prefixes = tuple(_prefixes(a for a in addresses if a.index == link.index))
    told = {
        "managed": received,
        "other": received,
        "mtu_bytes": link.advertised_mtu_bytes,
        "routers": routers,
        "prefixes": prefixes,
    }
    return AdvertisedView(
        received=received,
        managed=bool(flags & MANAGED) if received else None,
        other=bool(flags & OTHER) if received else None,
        mtu_bytes=link.advertised_mtu_bytes,
        routers=routers,
        prefixes=prefixes,
        sources={"received": SOURCE, **{name: SOURCE for name, one in told.items() if one}},
    )


def _routers(
    index: int, routes: Iterable[RouteEntry], near: Sequence[NeighbourEntry]
) -> Iterable[HeldRouter]:
    for route in routes:
        ours = route.index == index and route.family == 6 and route.prefix == 0
        in_force = route.table == MAIN_TABLE and route.kind == UNICAST
        if ours and in_force and route.protocol == BY_ADVERTISEMENT and route.gateway:
            known = (n.hardware_address for n in near if n.address == route.gateway)
            hardware_address = next((one for one in known if one), b"")
            yield HeldRouter(
                address=route.gateway,
                hardware_address=hardware_address.hex(":") or None,
                left_s=route.left_s,
            )


def _prefixes(addresses: Iterable[AddressEntry]) -> Iterable[HeldPrefix]:
    """Return the prefixes of the addresses held; of several the longest lived."""
    found: dict[tuple[str, int], HeldPrefix] = {}
    for held in addresses:
        if held.family != 6 or IPv6Address(held.address).is_link_local:
            continue
        network = str(IPv6Network((held.address, held.prefix), strict=False).network_address)
        new = HeldPrefix(
            network=network,
            prefix=held.prefix,
            valid_s=_seconds(held.valid_s),
            preferred_s=_seconds(held.preferred_s),
        )
        found[network, held.prefix] = max(
            (new, found.get((network, held.prefix), new)), key=_lives_on
        )
    return found.values()


def _lives_on(one: HeldPrefix) -> float:
    return float("inf") if one.preferred_s is None else one.preferred_s


def _seconds(value: int | None) -> float | None:
    return None if value is None else float(value)
