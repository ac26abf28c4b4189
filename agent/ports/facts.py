"""What the computer says of itself: interfaces, ways, leases, resolvers, counters, load."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Protocol

from agent.errors import NoInterface, NoRoute
from agent.measurements import AdvertisedView, LeaseFacts, LinkFacts


@dataclass(frozen=True, slots=True, kw_only=True)
class HeldAddress:
    """An address on an interface; `valid_s` is the validity left, None where it never ends.

    `prefix` is None where the system does not tell it.
    `told_by` is "kernel" for addresses that the kernel made itself (RFC 4862, RFC 4291), else
    None. `usable` is False for tentative, deprecated and duplicate addresses; `state` is the word
    for which of them it is, "preferred" for none, None where the system does not tell.
    """

    address: str
    prefix: int | None
    family: int
    valid_s: float | None = None
    told_by: str | None = None
    usable: bool = True
    state: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class DefaultWay:
    """A default route over an interface; `gateway` None is a point-to-point way."""

    family: int
    gateway: str | None
    metric: int = 0


@dataclass(frozen=True, slots=True, kw_only=True)
class Interface:
    """One interface with its addresses and default routes, in the system's order.

    `advertised` is what the system took of router advertisements, None where it does not tell.
    """

    link: LinkFacts
    index: int = 0
    addresses: tuple[HeldAddress, ...] = ()
    ways: tuple[DefaultWay, ...] = ()
    advertised: AdvertisedView | None = None

    @property
    def name(self) -> str:
        """The system's name of the interface."""
        return self.link.interface

    def gateway(self, family: int) -> str | None:
        """Return the default gateway with the lowest metric, None where there is none."""
        ways = sorted((w for w in self.ways if w.family == family), key=lambda w: w.metric)
        return ways[0].gateway if ways else None


@dataclass(frozen=True, slots=True, kw_only=True)
class Way:
    """How the system would reach an address now."""

    interface: str
    source: str | None = None
    gateway: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Counters:
    """Bytes an interface has carried since it came up, frame headers included."""

    received_bytes: int
    sent_bytes: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Load:
    """Processor seconds since the system started, and what else weakens a laptop.

    `busy_s` and `total_s` sum all processors, `cores` are (busy, total) of each, `steal_s` is what
    a hypervisor withheld of all; `process_s` is this program's own. `power_saver` says what keeps
    the laptop slow, "none" where nothing does. `memory_bytes` is all memory, `memory_free_bytes`
    what programs could still get of it. None = this system does not tell. `injected` names facts
    that a practice network supplied.
    """

    busy_s: float | None = None
    total_s: float | None = None
    cores: tuple[tuple[float, float], ...] = ()
    steal_s: float | None = None
    process_s: float | None = None
    on_battery: bool | None = None
    virtual_machine: bool | None = None
    injected: tuple[str, ...] = ()
    unverified_system: str | None = None
    power_saver: str | None = None
    memory_bytes: int | None = None
    memory_free_bytes: int | None = None


class FactsPort(Protocol):
    """Reads without rights; nothing is changed and nothing is sent."""

    def interfaces(self) -> tuple[Interface, ...]:
        """Return every interface of this computer."""
        ...

    def route(self, address: str) -> Way:
        """Return how an address would be reached. Raises NoRoute."""
        ...

    def leases(self, interface: str) -> tuple[LeaseFacts, ...]:
        """Return one entry per held address, or one of origin "none". Raises NoInterface."""
        ...

    def resolvers(self, interface: str) -> tuple[str, ...]:
        """Return the resolvers of the interface, first asked first. Raises NoInterface."""
        ...

    def counters(self, interface: str) -> Counters:
        """Return what the interface has carried. Raises NoInterface."""
        ...

    def load(self) -> Load:
        """Return the state of the laptop."""
        ...


@dataclass(kw_only=True)
class ScriptedFacts:
    """A computer made of values; `counted` and `loads` hand out one reading per call.

    The last reading is repeated. Interfaces without a scripted lease hold none.
    """

    ports: tuple[Interface, ...] = ()
    routes: Mapping[str, Way] = field(default_factory=dict)
    held: Mapping[str, tuple[LeaseFacts, ...]] = field(default_factory=dict)
    named: Mapping[str, tuple[str, ...]] = field(default_factory=dict)
    counted: tuple[Counters, ...] = (Counters(received_bytes=0, sent_bytes=0),)
    loads: tuple[Load, ...] = (Load(),)

    def interfaces(self) -> tuple[Interface, ...]:
        """Return the scripted interfaces."""
        return self.ports

    def route(self, address: str) -> Way:
        """Return the scripted way, or that of "default"."""
        way = self.routes.get(address, self.routes.get("default"))
        if way is None:
            raise NoRoute(address=address)
        return way

    def leases(self, interface: str) -> tuple[LeaseFacts, ...]:
        """Return the scripted leases."""
        self._known(interface)
        return self.held.get(interface, (LeaseFacts(family=4, origin="none"),))

    def resolvers(self, interface: str) -> tuple[str, ...]:
        """Return the scripted resolvers."""
        self._known(interface)
        return self.named.get(interface, ())

    def counters(self, interface: str) -> Counters:
        """Return the next scripted reading."""
        self._known(interface)
        first, self.counted = self.counted[0], self.counted[1:] or self.counted
        return first

    def load(self) -> Load:
        """Return the next scripted reading."""
        first, self.loads = self.loads[0], self.loads[1:] or self.loads
        return first

    def _known(self, interface: str) -> None:
        if all(port.name != interface for port in self.ports):
            raise NoInterface(interface=interface)
