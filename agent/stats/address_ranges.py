"""Ranges of addresses that say whose an address can be: a home's, an operator's for sharing."""

from __future__ import annotations

from collections.abc import Iterable
from ipaddress import IPv4Network, IPv6Network, ip_address, ip_network

Network = IPv4Network | IPv6Network

PRIVATE = tuple(map(ip_network, ("10.0.0.0/8", "172.16.0.0/12", "192.168.0.0/16")))
"""RFC 1918 §3: what every home may use."""

UNIQUE_LOCAL = IPv6Network("fc00::/7")
"""RFC 4193 §3.1."""

OF_HOMES = (*PRIVATE, UNIQUE_LOCAL, IPv4Network("198.18.0.0/15"))
"""The two above, and RFC 2544 appendix C.2.2 for networks that only test."""

SHARED = IPv4Network("100.64.0.0/10")
"""RFC 6598 §7: between customers' routers and an operator's translator, not for homes (§4)."""

TUNNEL_ENDS = IPv4Network("192.0.0.0/29")
"""RFC 6333 §5.7 and §6.5: the ends of DS-Lite, at the home and at the operator's translator."""


def within(address: str, networks: Iterable[Network | str]) -> bool:
    """Tell whether an address lies in any of the networks; texts that are none lie in none."""
    try:
        found = ip_address(address)
    except ValueError:
        return False
    return any(found in _network(network) for network in networks)


def of_a_home(address: str) -> bool:
    """Tell whether an address is for use inside a home or a test network."""
    return within(address, OF_HOMES)


def _network(network: Network | str) -> Network:
    return ip_network(network, strict=False) if isinstance(network, str) else network
