"""Who is at the other end: one plain address, and the client it counts as."""

from __future__ import annotations

import ipaddress
from dataclasses import dataclass
from functools import lru_cache

# Subscribers get at least a /64 (RFC 6177), and a host may use any address in it.
IPV6_CLIENT_BITS = 64


@dataclass(frozen=True, slots=True, kw_only=True)
class Peer:
    """The far end of a connection; `client` is what limits are counted by."""

    address: str
    port: int
    client: str

    @classmethod
    def of(cls, sockaddr: tuple[object, ...]) -> Peer:
        """Return the peer of a socket address as `accept` gives it."""
        address = plain_address(str(sockaddr[0]))
        return cls(address=address, port=int(str(sockaddr[1])), client=client_of(address))


@lru_cache(maxsize=1_024)
def plain_address(host: str) -> str:
    """Return an address without zone; IPv4 within IPv6 (RFC 4291 §2.5.5.2) as IPv4."""
    address = ipaddress.ip_address(host.partition("%")[0])
    if isinstance(address, ipaddress.IPv6Address) and address.ipv4_mapped is not None:
        return str(address.ipv4_mapped)
    return str(address)


def client_of(address: str) -> str:
    """Return what an address counts as: itself in IPv4, its /64 in IPv6."""
    if ":" not in address:
        return address
    return str(ipaddress.ip_network(f"{address}/{IPV6_CLIENT_BITS}", strict=False))
