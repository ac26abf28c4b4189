"""The facts port on systems without an engine of their own: psutil, and what the system adds.

Never run on a real macOS or Windows; whatever they do not tell stays None.
"""

from __future__ import annotations

import socket
from collections.abc import Callable
from dataclasses import dataclass, replace
from ipaddress import ip_address
from typing import Protocol, cast

from agent.clock import Clock, SystemClock
from agent.engines.ageing import aged
from agent.engines.linux_tying import FAMILIES, family_of, sockaddr
from agent.engines.portable_links import Tell, describe, held_addresses
from agent.errors import NoInterface, NoRoute
from agent.measurements import LeaseFacts, Medium
from agent.ports.facts import Counters, DefaultWay, HeldAddress, Interface, Load, Way

DISCARD_PORT = 9
"""RFC 863; a connected socket needs a port, and nothing is sent to it."""


@dataclass(frozen=True, slots=True, kw_only=True)
class FoundWay:
    """One way; `gateway` None is a way on the link itself, `interface` None is not told."""

    gateway: str | None = None
    interface: str | None = None


class Ways(Protocol):
    """The system's table of ways."""

    def towards(self, address: str) -> FoundWay | None:
        """Return the way to an address in force, None where the system tells of none."""
        ...

    def default_gateway(
        self, interface: str, addresses: tuple[str, ...], family: int
    ) -> str | None:
        """Return the default gateway over one interface, None where the system tells of none."""
        ...


class Told(Protocol):
    """What the system keeps of leases and resolvers."""

    def lease(self, address: str, interface: str) -> LeaseFacts | None:
        """Return what is kept of an IPv4 address of an interface, None where nothing is."""
        ...

    def resolvers(self, addresses: tuple[str, ...]) -> tuple[str, ...]:
        """Return the resolvers of the interface that holds the addresses."""
        ...


def own_source(address: str) -> str:
    """Return the own address towards another one; nothing is sent. Raises OSError."""
    family = family_of(address)
    with socket.socket(FAMILIES[family], socket.SOCK_DGRAM) as sock:
        sock.connect(sockaddr(address, DISCARD_PORT, family, None))
        return str(sock.getsockname()[0]).partition("%")[0]


def unknown_medium(name: str) -> Medium:  # noqa: ARG001 - the form of a medium by name
    """Return that a name tells nothing."""
    return Medium.UNKNOWN


class PortableFacts:
    """Reads this computer through psutil; `system` is the name a record calls it by."""

    def __init__(
        self,
        system: str,
        ways: Ways,
        told: Told,
        *,
        medium: Callable[[str], Medium] = unknown_medium,
        duplex_told: bool = True,
        tell: Tell | None = None,
        source: Callable[[str], str] = own_source,
        clock: Clock | None = None,
    ) -> None:
        self._system = system
        self._ways = ways
        self._told = told
        self._medium = medium
        self._duplex_told = duplex_told
        self._given = tell
        self._source = source
        self._clock = clock or SystemClock()

    def interfaces(self) -> tuple[Interface, ...]:
        """Return every interface of this computer."""
        return tuple(self._interface(name) for name in self._tell.net_if_stats())

    def route(self, address: str) -> Way:
        """Return how an address would be reached. Raises NoRoute."""
        try:
            source = self._source(address)
        except OSError as error:
            raise NoRoute(address=address) from error
        found = self._ways.towards(address) or FoundWay()
        name = found.interface or self._holder(source)
        return Way(interface=name, source=source, gateway=found.gateway)

    def leases(self, interface: str) -> tuple[LeaseFacts, ...]:
        """Return one entry per held address, or one of origin "none". Raises NoInterface."""
        port = self._named(interface)
        found = [self._lease(port, one) for one in port.addresses if not _bare_link_local(one)]
        if all(facts.family == 6 for facts in found):
            found.insert(0, LeaseFacts(family=4, origin="none"))
        return tuple(sorted(found, key=lambda f: (f.family, f.origin == "self-assigned")))

    def resolvers(self, interface: str) -> tuple[str, ...]:
        """Return the resolvers of the interface, without stubs. Raises NoInterface."""
        port = self._named(interface)
        found = self._told.resolvers(tuple(one.address for one in port.addresses))
        return tuple(name for name in found if _outside(name))

    def counters(self, interface: str) -> Counters:
        """Return what the interface has carried. Raises NoInterface.

        psutil itself makes up for counters that began again at 32 bits.
        """
        counted = self._tell.net_io_counters(pernic=True).get(interface)
        if counted is None:
            raise NoInterface(interface=interface)
        return Counters(received_bytes=counted.bytes_recv, sent_bytes=counted.bytes_sent)

    def load(self) -> Load:
        """Return the state of the laptop, with the name of its untried system."""
        from agent.engines.portable_load import read_load  # noqa: PLC0415 - psutil costs 50 ms

        return replace(read_load(), unverified_system=self._system)

    @property
    def _tell(self) -> Tell:
        if self._given is None:
            import psutil  # noqa: PLC0415 - costs 50 ms

            self._given = cast("Tell", psutil)
        return self._given

    def _interface(self, name: str) -> Interface:
        rows = self._tell.net_if_addrs().get(name, ())
        held = tuple(held_addresses(rows))
        link = describe(
            name,
            self._tell.net_if_stats()[name],
            held,
            rows,
            self._tell.net_io_counters(pernic=True).get(name),
            medium=self._medium(name),
            duplex_told=self._duplex_told,
        )
        return Interface(
            link=link, index=_index(name), addresses=held, ways=self._defaults(name, held)
        )

    def _defaults(self, name: str, held: tuple[HeldAddress, ...]) -> tuple[DefaultWay, ...]:
        addresses = tuple(one.address for one in held)
        families = sorted({one.family for one in held})
        found = ((f, self._ways.default_gateway(name, addresses, f)) for f in families)
        return tuple(DefaultWay(family=f, gateway=gateway) for f, gateway in found if gateway)

    def _named(self, name: str) -> Interface:
        if name not in self._tell.net_if_stats():
            raise NoInterface(interface=name)
        return self._interface(name)

    def _holder(self, address: str) -> str:
        """Return the interface that holds an address, nothing where none does."""
        for name, rows in self._tell.net_if_addrs().items():
            if any(one.address == address for one in held_addresses(rows)):
                return name
        return ""

    def _lease(self, port: Interface, held: HeldAddress) -> LeaseFacts:
        told = self._told.lease(held.address, port.name) if held.family == 4 else None
        facts = told or self._untold(port, held)
        origin = _origin(port, held) or facts.origin
        return aged(replace(facts, origin=origin, prefix=held.prefix), self._clock.wall())

    def _untold(self, port: Interface, held: HeldAddress) -> LeaseFacts:
        """Return an address of which the system keeps nothing that it could tell."""
        named = self.resolvers(port.name)
        dns = tuple(name for name in named if (":" in name) == (held.family == 6))
        gateway = port.gateway(held.family)
        return LeaseFacts(
            family=held.family,
            origin="unknown",
            address=held.address,
            gateway=gateway,
            dns=dns,
            sources={"address": "psutil"} | ({"gateway": "route"} if gateway else {}),
        )


def _origin(port: Interface, held: HeldAddress) -> str | None:
    """Return how an address came about where the address or the port alone says so (RFC 3927)."""
    if held.family == 4 and ip_address(held.address).is_link_local:
        return "self-assigned"
    return "ppp" if port.link.medium is Medium.PPP else None


def _bare_link_local(held: HeldAddress) -> bool:
    return held.family == 6 and ip_address(held.address).is_link_local


def _outside(name: str) -> bool:
    try:
        return not ip_address(name.partition("%")[0]).is_loopback
    except ValueError:
        return False


def _index(name: str) -> int:
    try:
        return socket.if_nametoindex(name)
    except OSError:
        return 0
