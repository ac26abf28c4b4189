"""What is wrong with an offer or a lease, and which servers offered: pure readings of a probe."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from ipaddress import IPv4Network
from itertools import pairwise

from agent.measurements import LeaseFacts, LeaseProbe, Offer
from agent.stats.address_ranges import within

INFINITE_S = 0xFFFF_FFFF
"""RFC 2131 §3.3: a lease without end has no renewal times."""

NO_ADDRESS = "0.0.0.0"  # noqa: S104 - what an offer holds that gives none, nothing is bound
ALONE = 32
"""A mask of 32 bits says that nobody is on the link; the router is then reached all the same."""


class Fault(StrEnum):
    """What can be wrong with what a server gives."""

    NO_ROUTER = "no-router"
    NO_DNS = "no-dns"
    MASK = "mask-misfits-router"
    NO_TIME = "lease-time-zero"
    TIMERS = "timers-out-of-order"


@dataclass(frozen=True, slots=True, kw_only=True)
class OfferingServer:
    """One server that offered: its identifier and hardware address, its offers in order."""

    server_id: str | None
    hardware_address: str | None
    offers: tuple[Offer, ...]

    @property
    def routers(self) -> tuple[str, ...]:
        """Return the gateways of its first offer."""
        return self.offers[0].routers


def servers_of(probe: LeaseProbe) -> tuple[OfferingServer, ...]:
    """Return the servers behind the offers, in order of appearance.

    One device is one server, whatever it calls itself: a relay passes on two servers of one
    operator under its own hardware address. It counts as two where its offers lead to different
    gateways, for some radio bridges put their own hardware address on everything.
    """
    groups: dict[tuple[str | None, tuple[str, ...]], list[Offer]] = {}
    for offer in probe.offers:
        device = offer.server_hardware_address or offer.server_id
        groups.setdefault((device, offer.routers), []).append(offer)
    return tuple(
        OfferingServer(
            server_id=offers[0].server_id,
            hardware_address=offers[0].server_hardware_address,
            offers=tuple(offers),
        )
        for offers in groups.values()
    )


def offer_faults(offer: Offer) -> tuple[Fault, ...]:
    """Return what is wrong with an offer; one that gives no address is left alone (RFC 8925)."""
    if offer.address == NO_ADDRESS:
        return ()
    found = {
        Fault.NO_ROUTER: not offer.routers,
        Fault.NO_DNS: not offer.dns,
        Fault.MASK: not mask_fits(offer),
        Fault.NO_TIME: not offer.lease_s,
        Fault.TIMERS: timers_reversed(offer.lease_s, offer.t1_s, offer.t2_s),
    }
    return tuple(fault for fault, holds in found.items() if holds)


def held_faults(held: LeaseFacts) -> tuple[Fault, ...]:
    """Return what is wrong with a lease that the system holds, as far as it tells.

    Routers and resolvers are judged only where the system tells what the lease itself names.
    """
    found = {
        Fault.NO_ROUTER: held.leased_routers == () and held.gateway is None,
        Fault.NO_DNS: held.leased_dns == () and not held.dns,
        Fault.NO_TIME: held.lease_s == 0,
        Fault.TIMERS: timers_reversed(held.lease_s, held.t1_s, held.t2_s),
    }
    return tuple(fault for fault, holds in found.items() if holds)


def timers_reversed(lease_s: int | None, t1_s: int | None, t2_s: int | None) -> bool:
    """Tell whether T1 < T2 < lease is broken by what is given (RFC 2131 §4.4.5)."""
    if not lease_s or lease_s == INFINITE_S:
        return False
    given = [one for one in (t1_s, t2_s, lease_s) if one is not None]
    return any(earlier >= later for earlier, later in pairwise(given))


def mask_fits(offer: Offer) -> bool:
    """Tell whether a gateway of the offer can be reached with its mask (RFC 2132 §3.3, §3.5).

    An on-link route to the gateway (RFC 3442) serves as well.
    """
    if not offer.routers or offer.subnet_mask is None:
        return not offer.routers
    try:
        network = IPv4Network(f"{offer.address}/{offer.subnet_mask}", strict=False)
    except ValueError:
        return False
    if str(network.netmask) != offer.subnet_mask:
        return False
    near = [network, *_on_link(offer)]
    return network.prefixlen == ALONE or any(
        within(router, near) and router != offer.address for router in offer.routers
    )


def _on_link(offer: Offer) -> list[IPv4Network]:
    return [
        IPv4Network((route.network, route.prefix), strict=False)
        for route in offer.routes
        if route.router == NO_ADDRESS and route.prefix
    ]
