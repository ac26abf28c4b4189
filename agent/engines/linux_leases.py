"""The lease that this system holds: its clients' files first, then what netlink still knows."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from datetime import UTC, datetime, timedelta
from ipaddress import ip_address
from pathlib import Path
from typing import Any

from agent.codec.dhcp_options import INFINITE_LEASE_S
from agent.codec.lease_files import FiledLease, dhclient_leases, keyed_lease, message_lease
from agent.errors import MalformedMessage
from agent.measurements import LeaseFacts, Medium
from agent.ports.facts import HeldAddress, Interface

MOST_BYTES = 1 << 18
MOST_FILES = 40


@dataclass(frozen=True, slots=True, kw_only=True)
class Found:
    """A lease with the file that told it; `written` is when the file last changed."""

    lease: FiledLease
    source: str
    written: datetime


def held_leases(
    root: Path, interface: Interface, resolvers: tuple[str, ...], now: datetime
) -> tuple[LeaseFacts, ...]:
    """Return one entry per address of the interface, or one of origin "none".

    `now` turns the validity left into an expiry. Link-local IPv6 addresses are no lease.
    """
    addresses = [a for a in interface.addresses if not (a.family == 6 and _link_local(a))]
    held = [_held(root, interface, address, resolvers, now) for address in addresses]
    if all(facts.family == 6 for facts in held):
        held.insert(0, LeaseFacts(family=4, origin="none"))
    return tuple(sorted(held, key=lambda facts: (facts.family, facts.origin == "self-assigned")))


def _held(
    root: Path,
    interface: Interface,
    address: HeldAddress,
    resolvers: tuple[str, ...],
    now: datetime,
) -> LeaseFacts:
    found = filed_lease(root, interface, address.address) if address.family == 4 else None
    facts = _from_netlink(interface, address, resolvers, now)
    if found is None:
        return facts
    return _completed(facts, found)


def _from_netlink(
    interface: Interface, address: HeldAddress, resolvers: tuple[str, ...], now: datetime
) -> LeaseFacts:
    gateway = interface.gateway(address.family)
    dns = tuple(r for r in resolvers if (":" in r) == (address.family == 6))
    left = address.valid_s
    sources = {"address": "netlink", "prefix": "netlink"}
    sources |= {"gateway": "netlink"} if gateway else {}
    sources |= {"dns": "resolv.conf"} if dns else {}
    sources |= {"expires": "netlink"} if left is not None else {}
    return LeaseFacts(
        family=address.family,
        origin=origin(interface, address),
        address=address.address,
        prefix=address.prefix,
        gateway=gateway,
        dns=dns,
        expires=_rfc3339(now + timedelta(seconds=left)) if left is not None else None,
        left_s=left,
        sources=sources,
    )


def origin(interface: Interface, address: HeldAddress) -> str:
    """Return how an address came about, as far as the kernel tells.

    A limited validity marks a lease: clients set it (systemd, NetworkManager, dhclient-script),
    hands do not (common practice, no source).
    """
    if address.family == 4 and _link_local(address):
        return "self-assigned"
    if interface.link.medium is Medium.PPP:
        return "ppp"
    if address.told_by == "kernel":
        return "kernel"
    return "static" if address.valid_s is None else "dhcp"


def _completed(facts: LeaseFacts, found: Found) -> LeaseFacts:
    """Return the facts with everything that the client's own file adds."""
    lease = found.lease
    expires, obtained = _span(found)
    new = {
        "gateway": facts.gateway or (lease.routers[0] if lease.routers else None),
        "dns": lease.dns,
        "server_id": lease.server_id,
        "lease_s": lease.lease_s,
        "t1_s": lease.t1_s,
        "t2_s": lease.t2_s,
        "obtained": _rfc3339(obtained) if obtained else None,
        "expires": _rfc3339(expires) if expires and facts.expires is None else None,
    }
    filed: dict[str, Any] = {k: value for k, value in new.items() if value not in (None, ())}
    told = {name: found.source for name in filed if getattr(facts, name) != filed[name]}
    sources = {**facts.sources, **told, "origin": found.source}
    return replace(facts, origin="dhcp", sources=sources, **filed)


def _span(found: Found) -> tuple[datetime | None, datetime | None]:
    """Return (expires, obtained): from the file's own date where it does not say."""
    lease = found.lease
    if lease.lease_s is None or lease.lease_s == INFINITE_LEASE_S:
        return lease.expires, None
    length = timedelta(seconds=lease.lease_s)
    expires = lease.expires or found.written + length
    return expires, expires - length


def filed_lease(root: Path, interface: Interface, address: str) -> Found | None:
    """Return the newest lease on file for an address that the interface really holds."""
    every = (
        found
        for pattern, source, read in _places(interface)
        for path in _files(root, pattern)
        for found in _read(path, source, read)
    )
    fitting = [f for f in every if f.lease.address == address and _same_port(f, interface.name)]
    return max(fitting, key=_newest, default=None)


def _newest(found: Found) -> tuple[datetime, datetime]:
    return found.lease.expires or found.written, found.written


def _same_port(found: Found, name: str) -> bool:
    return found.lease.interface in (None, name)


Reading = Callable[[bytes], tuple[FiledLease, ...]]


def _places(interface: Interface) -> Iterator[tuple[str, str, Reading]]:
    """Yield (pattern, source, reader) in the order in which they are believed."""
    name = "".join(f"[{c}]" if c in "[*?" else c for c in interface.name)
    yield f"var/lib/NetworkManager/internal-*-{name}.lease", "networkmanager-file", _keyed
    yield f"run/systemd/netif/leases/{interface.index}", "networkd-file", _keyed
    for pattern in (
        "var/lib/dhcp/dhclient*.leases",
        "var/lib/dhclient/*.lease*",
        f"var/lib/NetworkManager/dhclient-*-{name}.lease",
    ):
        yield pattern, "dhclient-file", lambda data: dhclient_leases(_text(data))
    yield f"var/lib/dhcpcd/{name}*.lease", "dhcpcd-file", lambda data: (message_lease(data),)


def _keyed(data: bytes) -> tuple[FiledLease, ...]:
    lease = keyed_lease(_text(data))
    return () if lease is None else (lease,)


def _text(data: bytes) -> str:
    return data.decode(errors="replace")


def _files(root: Path, pattern: str) -> list[Path]:
    try:
        return sorted(root.glob(pattern))[:MOST_FILES]
    except OSError:
        return []


def _read(path: Path, source: str, read: Reading) -> Iterator[Found]:
    """Yield the leases of a file's last part; files that may not be read yield none."""
    try:
        with path.open("rb") as file:
            size = file.seek(0, 2)
            file.seek(max(0, size - MOST_BYTES))
            data = file.read(MOST_BYTES)
            written = datetime.fromtimestamp(path.stat().st_mtime, UTC)
        for lease in read(data):
            yield Found(lease=lease, source=source, written=written)
    except (OSError, MalformedMessage):
        return


def _rfc3339(when: datetime) -> str:
    return when.astimezone(UTC).strftime("%Y-%m-%dT%H:%M:%SZ")


def _link_local(address: HeldAddress) -> bool:
    return ip_address(address.address.partition("%")[0]).is_link_local
