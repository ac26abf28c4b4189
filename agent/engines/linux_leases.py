"""The lease that this system holds: what managers tell, then clients' files, then netlink."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from datetime import UTC, datetime, timedelta
from ipaddress import ip_address, ip_network
from pathlib import Path
from typing import Any

from agent.codec.dhcp_options import INFINITE_LEASE_S
from agent.codec.lease_files import FiledLease, dhclient_leases, keyed_lease, message_lease
from agent.engines.ageing import aged
from agent.engines.linux_dbus_leases import Told
from agent.errors import MalformedMessage
from agent.measurements import LeaseFacts, Medium
from agent.ports.facts import HeldAddress, Interface

MOST_BYTES = 1 << 18
MOST_FILES = 40
ON_LINK = "on-link"
EARLIEST = datetime.min.replace(tzinfo=UTC)


@dataclass(frozen=True, slots=True, kw_only=True)
class Found:
    """A lease with who told it; `written` is when a file last changed, None for what is no file."""

    lease: FiledLease
    source: str
    written: datetime | None = None


def held_leases(
    interface: Interface,
    resolvers: tuple[str, ...],
    now: datetime,
    known: Callable[[str], tuple[Found, ...]],
    others: tuple[Interface, ...] = (),
) -> tuple[LeaseFacts, ...]:
    """Return one entry per address of the interface, or one of origin "none".

    `now` turns the validity left into an expiry; `known` tells what managers and files say of an
    IPv4 address, `others` are the further ports. Link-local IPv6 addresses are no lease.
    """
    addresses = [a for a in interface.addresses if not (a.family == 6 and _link_local(a))]
    held = [_held(interface, address, resolvers, now, known) for address in addresses]
    near = [replace(facts, beside=beside(facts, interface, others)) for facts in held]
    if all(facts.family == 6 for facts in near):
        near.insert(0, LeaseFacts(family=4, origin="none"))
    return tuple(sorted(near, key=lambda facts: (facts.family, facts.origin == "self-assigned")))


def _held(
    interface: Interface,
    address: HeldAddress,
    resolvers: tuple[str, ...],
    now: datetime,
    known: Callable[[str], tuple[Found, ...]],
) -> LeaseFacts:
    facts = _from_netlink(interface, address, resolvers, now)
    if address.family != 4 or facts.origin == "self-assigned":
        return facts
    for found in agreeing(known(address.address)):
        facts = _completed(facts, found)
    return aged(facts, now)


def agreeing(known: tuple[Found, ...]) -> tuple[Found, ...]:
    """Return the most believed of several, and those others that speak of the same lease."""
    first = known[:1]
    return first + tuple(found for found in known[1:] if _agree(first[0].lease, found.lease))


def _agree(one: FiledLease, other: FiledLease) -> bool:
    pairs = ((one.server_id, other.server_id), (one.lease_s, other.lease_s))
    alike = all(a == b for a, b in pairs if a is not None and b is not None)
    return alike and one.origin == other.origin


def _from_netlink(
    interface: Interface, address: HeldAddress, resolvers: tuple[str, ...], now: datetime
) -> LeaseFacts:
    gateway = interface.gateway(address.family)
    dns = tuple(r for r in resolvers if (":" in r) == (address.family == 6))
    left = address.valid_s
    told = ("address", "prefix", *(["gateway"] if gateway else []))
    sources = dict.fromkeys(told, "netlink") | ({"dns": "resolv.conf"} if dns else {})
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
        state=address.state,
        ways=_ways(interface, address.family),
    )


def _ways(interface: Interface, family: int) -> tuple[str, ...]:
    ours = sorted((w for w in interface.ways if w.family == family), key=lambda way: way.metric)
    return tuple(dict.fromkeys(way.gateway or ON_LINK for way in ours))


def beside(
    facts: LeaseFacts, interface: Interface, others: tuple[Interface, ...]
) -> tuple[str, ...]:
    """Return the other ports that are up and hold an address in the network of a lease."""
    if facts.address is None or facts.prefix is None or facts.origin == "self-assigned":
        return ()
    network = ip_network(f"{facts.address}/{facts.prefix}", strict=False)
    if network.num_addresses == 1:
        return ()
    joined = {interface.name, interface.link.parent} - {None}
    apart = [o for o in others if o.link.up and not {o.name, o.link.parent} & joined]
    return tuple(o.name for o in apart if any(ip_address(_bare(a)) in network for a in o.addresses))


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
    """Return the facts with everything that a manager or a client's own file adds."""
    lease = found.lease
    expires, obtained = _span(found)
    new = {
        "gateway": lease.routers[0] if lease.routers else None,
        "server_id": lease.server_id,
        "lease_s": lease.lease_s,
        "t1_s": lease.t1_s,
        "t2_s": lease.t2_s,
        "obtained": _rfc3339(obtained) if obtained else None,
        "expires": _rfc3339(expires) if expires else None,
        "leased_routers": lease.routers if lease.whole else None,
        "leased_dns": lease.dns if lease.whole else None,
        "captive_api": lease.captive_api,
    }
    told: dict[str, Any] = {
        name: value
        for name, value in new.items()
        if value is not None and getattr(facts, name) is None
    }
    if lease.dns and facts.sources.get("dns") in (None, "resolv.conf"):
        told["dns"] = lease.dns
    if "origin" not in facts.sources:
        told["origin"] = lease.origin
    return replace(facts, sources={**facts.sources, **dict.fromkeys(told, found.source)}, **told)


def _span(found: Found) -> tuple[datetime | None, datetime | None]:
    """Return (expires, obtained): from the file's own date where it does not say."""
    lease = found.lease
    if lease.lease_s is None or lease.lease_s == INFINITE_LEASE_S:
        return lease.expires, lease.obtained
    length = timedelta(seconds=lease.lease_s)
    if found.written is None:
        expires = lease.expires or (lease.obtained + length if lease.obtained else None)
    else:
        expires = lease.expires or found.written + length
    return expires, lease.obtained or (expires - length if expires else None)


def told_leases(told: tuple[Told, ...], address: str) -> tuple[Found, ...]:
    """Return what managers told of an address, in their order."""
    found = (Found(lease=lease, source=source) for lease, source in told)
    return tuple(one for one in found if one.lease.address == address)


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
    written = found.written or EARLIEST
    return found.lease.expires or written, written


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
    return ip_address(_bare(address)).is_link_local


def _bare(address: HeldAddress) -> str:
    return address.address.partition("%")[0]
