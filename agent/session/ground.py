"""What the laptop stands on: the port under test, its addresses, its way out."""

from __future__ import annotations

from dataclasses import dataclass

from agent.errors import InterfaceDown, NoInterface
from agent.measurements import LeaseFacts, Medium
from agent.ports.binding import Binding
from agent.ports.facts import FactsPort, Interface

SELF_ASSIGNED = "169.254."


@dataclass(frozen=True, slots=True, kw_only=True)
class Ground:
    """The port under test and what hangs on it; `binding.ipv4` None = no usable address."""

    interface: Interface
    binding: Binding
    gateway: str | None
    resolvers: tuple[str, ...]

    @property
    def has_address(self) -> bool:
        """True where probes can be sent at all."""
        return self.binding.ipv4 is not None or self.binding.ipv6 is not None


def stand_on(facts: FactsPort, wanted: str | None) -> Ground:
    """Return the ground of a visit. Raises NoInterface, InterfaceDown."""
    interface = choose(facts.interfaces(), wanted)
    if not interface.link.up:
        raise InterfaceDown(interface=interface.name)
    binding = Binding(
        interface=interface.name, ipv4=_usable(interface, 4), ipv6=_usable(interface, 6)
    )
    return Ground(
        interface=interface,
        binding=binding,
        gateway=interface.gateway(4) or interface.gateway(6),
        resolvers=facts.resolvers(interface.name),
    )


def choose(interfaces: tuple[Interface, ...], wanted: str | None) -> Interface:
    """Return the wanted interface, else the best candidate. Raises NoInterface."""
    if wanted is not None:
        found = [i for i in interfaces if i.name == wanted]
        if not found:
            raise NoInterface(interface=wanted)
        return found[0]
    candidates = [i for i in interfaces if i.link.medium is not Medium.LOOPBACK]
    if not candidates:
        raise NoInterface(interface="to measure through")
    return max(candidates, key=_fitness)


def _fitness(interface: Interface) -> tuple[bool, bool, bool, int]:
    lowest = min((way.metric for way in interface.ways), default=1 << 31)
    wired = interface.link.medium is Medium.WIRED
    return (bool(interface.ways), interface.link.up, wired, -lowest)


def _usable(interface: Interface, family: int) -> str | None:
    own = [
        a.address
        for a in interface.addresses
        if a.family == family and a.usable and not a.address.startswith((SELF_ASSIGNED, "fe80:"))
    ]
    return own[0] if own else None


def lease_origin(leases: tuple[LeaseFacts, ...]) -> str:
    """Return how the first lease came about; "none" where there is none."""
    return leases[0].origin if leases else "none"
