"""What routers and DHCPv6 servers say, reduced, and what is wrong with it."""

from __future__ import annotations

from collections.abc import Iterable
from enum import StrEnum
from ipaddress import IPv6Address, IPv6Network

from agent.measurements import (
    AdvertisedPrefix,
    AdvertisedProbe,
    AdvertisedRouter,
    AdvertisedStatistics,
    AdvertisedView,
    LeaseFacts,
    ServerAnswer,
)
from agent.stats.address_ranges import UNIQUE_LOCAL

NO_ADDRESSES, NO_PREFIX = 2, 6
"""NoAddrsAvail and NoPrefixAvail (RFC 8415 §21.13)."""

TWICE = 2
ADVERTISE = "advertise"
_LINK_LOCAL = IPv6Network("fe80::/10")
"""RFC 4291 §2.5.6."""


class AdvertisedFault(StrEnum):
    """What can be wrong with what routers and servers say."""

    TWO_ROUTERS = "two-routers"
    EXPIRED = "prefix-expired"
    REVERSED = "prefix-lifetimes-reversed"
    NO_ROUTER = "no-default-router"
    NO_SERVER = "managed-without-server"
    NO_ADDRESS = "server-without-address"
    NO_RESOLVER = "no-resolver"


def advertised_statistics(held: LeaseFacts) -> AdvertisedStatistics | None:
    """Return what a lease says of routers and servers, None where nothing is known of them."""
    if held.advertised is not None:
        return _of_probe(held.advertised)
    return None if held.advertised_view is None else _of_view(held.advertised_view)


def _of_probe(probe: AdvertisedProbe) -> AdvertisedStatistics:
    latest = latest_of(probe)
    return AdvertisedStatistics(
        probed=True,
        routers=tuple(one.hardware_address for one in default_routers(probe)),
        managed=any(one.managed for one in latest) if latest else None,
        other=any(one.other for one in latest) if latest else None,
        prefixes=_once(f"{p.network}/{p.prefix}" for one in latest for p in one.prefixes),
        delegated=_once(f"{d.network}/{d.prefix}" for s in probe.servers for d in s.delegated),
        dns=resolvers_of(probe),
        servers=_once(one.server_id for one in probe.servers),
        captive_apis=probe.captive_apis,
        mtu_bytes=min((r.mtu_bytes for r in latest if r.mtu_bytes is not None), default=None),
        faults=tuple(fault.value for fault in advertised_faults(probe)),
    )


def _of_view(view: AdvertisedView) -> AdvertisedStatistics:
    return AdvertisedStatistics(
        probed=False,
        routers=_once(one.hardware_address or one.address for one in view.routers),
        managed=view.managed,
        other=view.other,
        prefixes=tuple(f"{one.network}/{one.prefix}" for one in view.prefixes),
        mtu_bytes=view.mtu_bytes,
        faults=tuple(fault.value for fault in _view_faults(view)),
    )


def latest_of(probe: AdvertisedProbe) -> tuple[AdvertisedRouter, ...]:
    """Return of each router the last that it said, in order of appearance.

    A router is a sender with an address: one device that speaks from two is read as two voices.
    """
    found = {(one.hardware_address, one.address): one for one in probe.routers}
    return tuple(found.values())


def default_routers(probe: AdvertisedProbe) -> tuple[AdvertisedRouter, ...]:
    """Return one advertisement of each device that says it is a way out (RFC 4861 §4.2).

    Devices that only announce a network of their own, as hubs of sensors do, say so by a router
    lifetime of zero and are none.
    """
    ways = (one for one in latest_of(probe) if one.router_lifetime_s)
    return tuple({one.hardware_address: one for one in ways}.values())


def advertised_faults(probe: AdvertisedProbe) -> tuple[AdvertisedFault, ...]:
    """Return what is wrong with what was heard."""
    latest = latest_of(probe)
    found = {
        AdvertisedFault.TWO_ROUTERS: len(default_routers(probe)) >= TWICE,
        AdvertisedFault.EXPIRED: _expired(latest),
        AdvertisedFault.REVERSED: reversed_prefix(probe) is not None,
        AdvertisedFault.NO_ROUTER: _no_way(latest),
        AdvertisedFault.NO_SERVER: _unserved(probe),
        AdvertisedFault.NO_ADDRESS: _addressless(probe),
        AdvertisedFault.NO_RESOLVER: bool(default_routers(probe)) and not resolvers_of(probe),
    }
    return tuple(fault for fault, holds in found.items() if holds)


def _view_faults(view: AdvertisedView) -> tuple[AdvertisedFault, ...]:
    devices = {one.hardware_address or one.address for one in view.routers}
    unserved = bool(view.managed) and not view.prefixes
    found = {
        AdvertisedFault.TWO_ROUTERS: len(devices) >= TWICE,
        AdvertisedFault.EXPIRED: bool(view.prefixes)
        and all(one.preferred_s == 0 for one in view.prefixes),
        AdvertisedFault.NO_SERVER: unserved,
    }
    return tuple(fault for fault, holds in found.items() if holds)


def _expired(latest: Iterable[AdvertisedRouter]) -> bool:
    """Tell whether every prefix for addresses may be used no longer (RFC 4862 §5.5.3, §5.5.4).

    A router that renumbers withdraws the old one beside the new: that is sound.
    """
    prefixes = _for_addresses(latest)
    return bool(prefixes) and all(not (p.preferred_s and p.valid_s) for p in prefixes)


def reversed_prefix(probe: AdvertisedProbe) -> AdvertisedPrefix | None:
    """Return a prefix that is preferred longer than valid; hosts pass it over (RFC 4862 §5.5.3)."""
    every = (p for one in latest_of(probe) for p in one.prefixes if p.autonomous)
    return next((p for p in every if p.preferred_s > p.valid_s), None)


def _no_way(latest: tuple[AdvertisedRouter, ...]) -> bool:
    """Tell whether prefixes of the Internet are given and nobody is a way out."""
    ways = any(one.router_lifetime_s for one in latest)
    far = (p for p in _for_addresses(latest) if _global(p) and p.valid_s)
    return not ways and any(far)


def _unserved(probe: AdvertisedProbe) -> bool:
    """Tell whether devices are sent to a server for addresses, and none answers when asked."""
    managed = any(one.managed for one in default_routers(probe))
    offers = any(one.kind == ADVERTISE for one in probe.servers)
    return managed and probe.servers_asked >= TWICE and not offers


def _addressless(probe: AdvertisedProbe) -> bool:
    """Tell whether devices are sent to servers of which none has an address."""
    managed = any(one.managed for one in default_routers(probe))
    offers = [one for one in probe.servers if one.kind == ADVERTISE]
    return managed and bool(offers) and not any(one.addresses for one in offers)


def resolvers_of(probe: AdvertisedProbe) -> tuple[str, ...]:
    """Return the resolvers that routers or servers name and let stand (RFC 8106 §5.1)."""
    live = (d for one in latest_of(probe) if one.dns_lifetime_s for d in one.dns)
    return _once((*live, *(d for one in probe.servers for d in one.dns)))


def delegations_of(probe: AdvertisedProbe) -> tuple[ServerAnswer, ...]:
    """Return the answers that offer a prefix that lives."""
    return tuple(one for one in probe.servers if any(d.valid_s for d in one.delegated))


def portals_of(leases: Iterable[LeaseFacts]) -> tuple[str, ...]:
    """Return every URI of the portal's API that is named on a link, each once (RFC 8910 §3)."""
    found: list[str] = []
    for held in leases:
        offers = held.probe.offers if held.probe is not None else ()
        found += [one.captive_api for one in offers if one.captive_api is not None]
        found += held.advertised.captive_apis if held.advertised is not None else ()
    return _once(found)


def _for_addresses(latest: Iterable[AdvertisedRouter]) -> list[AdvertisedPrefix]:
    return [p for one in latest for p in one.prefixes if p.autonomous and _usable(p)]


def _usable(told: AdvertisedPrefix) -> bool:
    return IPv6Address(told.network) not in _LINK_LOCAL and told.prefix == 64


def _global(told: AdvertisedPrefix) -> bool:
    return IPv6Address(told.network) not in UNIQUE_LOCAL


def _once(values: Iterable[str]) -> tuple[str, ...]:
    return tuple(dict.fromkeys(values))
