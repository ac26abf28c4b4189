"""What the system's network managers tell of their leases, as the same frozen form as files.

NetworkManager's D-Bus reference (DHCP4Config.Options, IP4Config; names of options are those of
dhcp-options(5) with underscores) and networkd's description of a link (org.freedesktop.network1(5),
JSON; its members are documented by the program's source only). What they lack stays None.
"""

from __future__ import annotations

import json
from collections.abc import Iterator, Mapping
from datetime import UTC, datetime, timedelta
from ipaddress import ip_address
from typing import Any

from agent.codec.lease_files import (
    MOST_ADDRESSES,
    FiledLease,
    address_of,
    addresses_of,
    number_of,
    prefix_of,
)

AF_INET = 2
US_PER_S = 1_000_000
SOURCES = {"DHCPv4": "dhcp", "static": "static"}
"""networkd's ConfigSource of an address, and our word for where it came from."""


def option_lease(options: Mapping[str, object]) -> FiledLease | None:
    """Return the lease in NetworkManager's options, all texts; None where they name no address."""
    said = {name: value for name, value in options.items() if isinstance(value, str)}
    address = address_of(said.get("ip_address"))
    return (
        None
        if address is None
        else FiledLease(
            address=address,
            whole="dhcp_server_identifier" in said,
            prefix=prefix_of(said.get("subnet_mask")),
            routers=addresses_of(said.get("routers")),
            dns=addresses_of(said.get("domain_name_servers")),
            server_id=address_of(said.get("dhcp_server_identifier")),
            lease_s=number_of(said.get("dhcp_lease_time")),
            t1_s=number_of(said.get("dhcp_renewal_time")),
            t2_s=number_of(said.get("dhcp_rebinding_time")),
            expires=_at(number_of(said.get("expiry"))),
        )
    )


def typed_in(settings: Mapping[str, object]) -> Iterator[FiledLease]:
    """Yield the addresses of an IP4Config that no server gave, with its gateway and resolvers."""
    gateway = address_of(_text(settings.get("Gateway")))
    named = (row.get("address") for row in _rows(settings.get("NameserverData")))
    dns = tuple(name for one in named if (name := address_of(_text(one))))[:MOST_ADDRESSES]
    for row in _rows(settings.get("AddressData")):
        address = address_of(_text(row.get("address")))
        if address is not None:
            yield FiledLease(
                address=address,
                origin="static",
                prefix=_whole(row.get("prefix")),
                routers=(gateway,) if gateway else (),
                dns=dns,
            )


def described_leases(text: str, now: datetime, booted_s: float) -> tuple[FiledLease, ...]:
    """Return the IPv4 addresses of networkd's description whose source it knows.

    Its times are microseconds since the system started; `booted_s` is that clock's reading at
    `now`. The length of a lease is what its address was valid for when obtained. Text that is no
    description yields none.
    """
    try:
        said = json.loads(text)
    except (ValueError, RecursionError):
        return ()
    if not isinstance(said, Mapping):
        return ()
    found = (_described(row, said, now, booted_s) for row in _rows(said.get("Addresses")))
    return tuple(lease for lease in found if lease is not None)[:MOST_ADDRESSES]


def _described(
    row: Mapping[str, Any], said: Mapping[str, Any], now: datetime, booted_s: float
) -> FiledLease | None:
    address, source = _octets(row.get("Address")), str(row.get("ConfigSource"))
    if row.get("Family") != AF_INET or address is None or source not in SOURCES:
        return None
    provider = _octets(row.get("ConfigProvider"))
    lease = _member(said, "DHCPv4Client", "Lease") if source == "DHCPv4" else {}
    until = _seconds(row.get("ValidLifetimeUSec", row.get("ValidLifetimeUsec")))
    taken = _seconds(lease.get("LeaseTimestampUSec"))
    return FiledLease(
        address=address,
        origin=SOURCES[source],
        prefix=_whole(row.get("PrefixLength")),
        routers=tuple(_gateways(said, source)),
        dns=tuple(_servers(said, source)),
        server_id=provider if source == "DHCPv4" else None,
        lease_s=_between(taken, until),
        t1_s=_between(taken, _seconds(lease.get("Timeout1USec"))),
        t2_s=_between(taken, _seconds(lease.get("Timeout2USec"))),
        obtained=_wall(taken, now, booted_s),
        expires=_wall(until, now, booted_s),
    )


def _gateways(said: Mapping[str, Any], source: str) -> Iterator[str]:
    for row in _rows(said.get("Routes")):
        whole = row.get("DestinationPrefixLength") == 0
        gateway = _octets(row.get("Gateway"))
        if whole and gateway and row.get("Family") == AF_INET and row.get("ConfigSource") == source:
            yield gateway


def _servers(said: Mapping[str, Any], source: str) -> Iterator[str]:
    for row in _rows(said.get("DNS")):
        address = _octets(row.get("Address"))
        if address and row.get("Family") == AF_INET and row.get("ConfigSource") == source:
            yield address


def _rows(node: object) -> list[Mapping[str, Any]]:
    rows = node if isinstance(node, list | tuple) else ()
    return [row for row in rows if isinstance(row, Mapping)]


def _member(node: object, *path: str) -> Mapping[str, Any]:
    for name in path:
        node = node.get(name) if isinstance(node, Mapping) else None
    return node if isinstance(node, Mapping) else {}


def _octets(value: object) -> str | None:
    """Return an address written as a list of its octets."""
    try:
        return str(ip_address(bytes(value))) if isinstance(value, list) else None
    except (ValueError, TypeError):
        return None


def _seconds(value: object) -> float | None:
    good = isinstance(value, int) and not isinstance(value, bool) and 0 < value < 1 << 63
    return value / US_PER_S if good and isinstance(value, int) else None


def _between(start: float | None, end: float | None) -> int | None:
    return None if start is None or end is None or end < start else round(end - start)


def _wall(at_s: float | None, now: datetime, booted_s: float) -> datetime | None:
    try:
        return None if at_s is None else now + timedelta(seconds=at_s - booted_s)
    except OverflowError:
        return None


def _at(seconds: int | None) -> datetime | None:
    try:
        return None if seconds is None else datetime.fromtimestamp(seconds, UTC)
    except (ValueError, OverflowError, OSError):
        return None


def _whole(value: object) -> int | None:
    good = isinstance(value, int) and not isinstance(value, bool) and 0 <= value <= 32
    return value if good and isinstance(value, int) else None


def _text(value: object) -> str | None:
    return value if isinstance(value, str) else None
