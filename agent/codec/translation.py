"""IPv4 addresses inside IPv6 ones, as translators between the families make them (RFC 6052)."""

from __future__ import annotations

from collections.abc import Iterable
from contextlib import suppress
from ipaddress import IPv4Address, IPv6Address, IPv6Network

WELL_KNOWN = IPv6Network("64:ff9b::/96")
"""RFC 6052 §2.1."""

PREFIX_BITS = (96, 64, 56, 48, 40, 32)
"""RFC 6052 §2.2, the longest first."""

IPV4_ONLY = "ipv4only.arpa"
"""The name that has IPv4 addresses and no others (RFC 7050 §2.2)."""

IPV4_ONLY_ADDRESSES = frozenset({IPv4Address("192.0.0.170"), IPv4Address("192.0.0.171")})
"""RFC 7050 §2.2."""

RESERVED = 8
"""The octet that is zero and no part of the IPv4 address: bits 64 to 71 (RFC 6052 §2.2)."""


def embedded(prefix: IPv6Network, address: IPv4Address) -> IPv6Address:
    """Return an IPv4 address inside a prefix (RFC 6052 §2.3).

    Raises ValueError for a prefix of a length that none may have.
    """
    whole = bytearray(prefix.network_address.packed)
    for place, octet in zip(_places(prefix.prefixlen), address.packed, strict=True):
        whole[place] = octet
    return IPv6Address(bytes(whole))


def extracted(prefix: IPv6Network, address: IPv6Address) -> IPv4Address:
    """Return the IPv4 address inside an address of a prefix (RFC 6052 §2.3).

    Raises ValueError for a prefix of a length that none may have.
    """
    return IPv4Address(bytes(address.packed[place] for place in _places(prefix.prefixlen)))


def prefix_told(answers: Iterable[str]) -> IPv6Network | None:
    """Return the prefix in which the addresses of `ipv4only.arpa` came back (RFC 7050 §3).

    None where no answer holds one of them, as from a resolver that does not make addresses up.
    """
    for answer in answers:
        with suppress(ValueError):
            address = IPv6Address(answer)
            for bits in PREFIX_BITS:
                prefix = IPv6Network((address, bits), strict=False)
                if _fits(prefix, address):
                    return prefix
    return None


def _fits(prefix: IPv6Network, address: IPv6Address) -> bool:
    known = extracted(prefix, address) in IPV4_ONLY_ADDRESSES
    return known and embedded(prefix, extracted(prefix, address)) == address


def _places(bits: int) -> tuple[int, ...]:
    """Return the octets of the whole address that hold the four of IPv4."""
    if bits not in PREFIX_BITS:
        msg = f"no prefix of a translator has {bits} bits"
        raise ValueError(msg)
    free = (place for place in range(bits // 8, 16) if place != RESERVED)
    return tuple(free)[:4]
