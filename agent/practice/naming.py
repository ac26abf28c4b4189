"""What the names of the practice network lead to over IPv6."""

from __future__ import annotations

from ipaddress import IPv4Address

from agent.codec.translation import IPV4_ONLY, IPV4_ONLY_ADDRESSES, WELL_KNOWN, embedded
from agent.practice.addresses import IPV4_ONLY_SITES, Addresses, Addresses6

Names6 = dict[str, tuple[str, ...]]


def names_6(addresses: Addresses, addresses_6: Addresses6, *, translated: bool) -> Names6:
    """Return the IPv6 addresses of the names; one site has none of its own.

    Where IPv6 is `translated`, names without one get their IPv4 address inside the well-known
    prefix (RFC 6147 §5.1.7), as does the name that clients find the prefix with (RFC 7050 §3).
    """
    known: Names6 = {addresses.server_name: (addresses_6.server,)}
    for site, address in zip(addresses.sites, addresses_6.sites, strict=True):
        if site.name.partition(".")[0] not in IPV4_ONLY_SITES:
            known[site.name] = (address,)
    if translated:
        known |= {n: _made_up(a) for n, a in addresses.names.items() if n not in known}
        known[IPV4_ONLY] = _made_up(*sorted(str(a) for a in IPV4_ONLY_ADDRESSES))
    return known


def _made_up(*addresses: str) -> tuple[str, ...]:
    return tuple(str(embedded(WELL_KNOWN, IPv4Address(a))) for a in addresses)
