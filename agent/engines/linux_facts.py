"""The facts port on Linux: netlink, ethtool, /sys and lease files; no right is needed."""

from __future__ import annotations

from collections.abc import Callable
from ipaddress import ip_address
from pathlib import Path

from agent.clock import Clock, SystemClock
from agent.codec.lease_files import nameservers
from agent.codec.rtnetlink import MAIN_TABLE, UNICAST, AddressEntry, LinkEntry, RouteEntry
from agent.engines import linux_netlink
from agent.engines.linux_advertised import advertised_view
from agent.engines.linux_dbus_leases import BusLeases
from agent.engines.linux_ethtool import speed_and_duplex
from agent.engines.linux_leases import Found, agreeing, filed_lease, held_leases, told_leases
from agent.engines.linux_links import Means, describe
from agent.engines.linux_sysfs import Device, device, pppoe_ports, read_text
from agent.errors import NoInterface
from agent.measurements import LeaseFacts, Medium
from agent.ports.facts import Counters, DefaultWay, HeldAddress, Interface, Load, Way

TEMPORARY, DUPLICATE, DEPRECATED, TENTATIVE, PERMANENT = 0x01, 0x08, 0x20, 0x40, 0x80
MANAGED_TEMPORARY = 0x100
MADE_BY_KERNEL = (2, 3)
"""IFAPROT_KERNEL_RA and IFAPROT_KERNEL_LL of linux/if_addr.h."""

RESOLVER_FILES = (
    "etc/resolv.conf",
    "run/systemd/resolve/resolv.conf",
    "run/NetworkManager/no-stub-resolv.conf",
    "run/NetworkManager/resolv.conf",
)
"""The file in force, then the files behind a local stub (resolved, NetworkManager)."""


PPP_RESOLVERS = "etc/ppp/resolv.conf"
"""Where pppd(8) writes the resolvers that its peer gave (usepeerdns)."""

Known = Callable[[str], tuple[Found, ...]]


class LinuxFacts:
    """Reads this computer through the kernel and the files under `root`."""

    def __init__(
        self,
        root: Path = Path("/"),
        clock: Clock | None = None,
        speed: Callable[[str], tuple[int | None, str | None]] = speed_and_duplex,
    ) -> None:
        self._root = root
        self._clock = clock or SystemClock()
        self._speed = speed
        self._bus = BusLeases(root)

    def interfaces(self) -> tuple[Interface, ...]:
        """Return every interface of this network namespace."""
        entries = linux_netlink.links()
        addresses, routes = linux_netlink.addresses(), linux_netlink.routes()
        neighbours = linux_netlink.neighbours()
        means = self._means()
        return tuple(
            Interface(
                link=describe(entry, entries, means),
                index=entry.index,
                addresses=tuple(_held(a) for a in addresses if a.index == entry.index),
                ways=tuple(_way(r) for r in routes if r.index == entry.index and _default(r)),
                advertised=advertised_view(entry, addresses, routes, neighbours),
            )
            for entry in entries
        )

    def route(self, address: str) -> Way:
        """Return how an address would be reached. Raises NoRoute."""
        found = linux_netlink.route_to(address)
        name = next((e.name for e in linux_netlink.links() if e.index == found.index), "")
        return Way(interface=name, source=found.source, gateway=found.gateway)

    def leases(self, interface: str) -> tuple[LeaseFacts, ...]:
        """Return one entry per held address, or one of origin "none". Raises NoInterface."""
        ports = self.interfaces()
        port = _of_name(ports, interface)
        known = self._known(port)
        return held_leases(
            port, self._resolvers(port, known), self._clock.wall(), known, others=ports
        )

    def resolvers(self, interface: str) -> tuple[str, ...]:
        """Return the lease's resolvers, then the system's own. Raises NoInterface.

        Loopback addresses are a stub on this laptop and no part of the line.
        """
        port = _of_name(self.interfaces(), interface)
        return self._resolvers(port, self._known(port))

    def counters(self, interface: str) -> Counters:
        """Return the 64-bit counters of the interface. Raises NoInterface."""
        entry = next((e for e in linux_netlink.links() if e.name == interface), None)
        if entry is None:
            raise NoInterface(interface=interface)
        return Counters(received_bytes=entry.received_bytes or 0, sent_bytes=entry.sent_bytes or 0)

    def load(self) -> Load:
        """Return processor seconds and power."""
        from agent.engines.linux_load import read_load  # noqa: PLC0415 - psutil costs 50 ms

        return read_load(self._root)

    def _means(self) -> Means:
        def known(entry: LinkEntry) -> Device | None:
            return device(self._root, entry.name, entry.index)

        return Means(device=known, speed=self._speed, pppoe=pppoe_ports(self._root))

    def _known(self, port: Interface) -> Known:
        """Return the question what managers and files say of an address of a port."""
        told = self._bus.leases(port.name, port.index, self._clock.wall())

        def known(address: str) -> tuple[Found, ...]:
            filed = filed_lease(self._root, port, address)
            return (*told_leases(told, address), *((filed,) if filed else ()))

        return known

    def _resolvers(self, port: Interface, known: Known) -> tuple[str, ...]:
        found = (lease.lease for a in port.addresses for lease in agreeing(known(a.address)))
        leased = tuple(name for lease in found for name in lease.dns)
        return tuple(dict.fromkeys((*leased, *self._system_resolvers(port))))

    def _system_resolvers(self, port: Interface) -> tuple[str, ...]:
        of_ppp = (PPP_RESOLVERS,) if port.link.medium is Medium.PPP else ()
        for place in (*of_ppp, *RESOLVER_FILES):
            outside = tuple(
                name for name in nameservers(read_text(self._root / place) or "") if _outside(name)
            )
            if outside:
                return outside
        return ()


def _of_name(ports: tuple[Interface, ...], name: str) -> Interface:
    found = next((port for port in ports if port.name == name), None)
    if found is None:
        raise NoInterface(interface=name)
    return found


def _outside(name: str) -> bool:
    try:
        return not ip_address(name.partition("%")[0]).is_loopback
    except ValueError:
        return False


def _held(entry: AddressEntry) -> HeldAddress:
    return HeldAddress(
        address=entry.address,
        prefix=entry.prefix,
        family=entry.family,
        valid_s=None if entry.valid_s is None else float(entry.valid_s),
        told_by="kernel" if _by_kernel(entry) else None,
        usable=not entry.flags & (TENTATIVE | DUPLICATE | DEPRECATED),
        state=_state(entry.flags),
    )


def _state(flags: int) -> str:
    """Return the word of RFC 4862 §2 for an address; a duplicate one stays tentative as well."""
    states = {DUPLICATE: "duplicate", TENTATIVE: "tentative", DEPRECATED: "deprecated"}
    return next((word for flag, word in states.items() if flags & flag), "preferred")


def _by_kernel(entry: AddressEntry) -> bool:
    """Return whether a router advertisement or the link itself made the address.

    Kernels before 5.18 do not say; there the flags of privacy addresses tell (RFC 8981).
    """
    flagged = entry.flags & (TEMPORARY | MANAGED_TEMPORARY) and not entry.flags & PERMANENT
    return entry.protocol in MADE_BY_KERNEL or (entry.family == 6 and bool(flagged))


def _way(entry: RouteEntry) -> DefaultWay:
    return DefaultWay(family=entry.family, gateway=entry.gateway, metric=entry.metric)


def _default(entry: RouteEntry) -> bool:
    return entry.prefix == 0 and entry.table == MAIN_TABLE and entry.kind == UNICAST
