"""What the laptop stands on: the port under test, its addresses, its way out."""

from __future__ import annotations

from dataclasses import dataclass, replace
from ipaddress import ip_address

from agent.errors import InterfaceDown, NoAddress
from agent.ports.binding import Binding
from agent.ports.facts import FactsPort, Interface
from agent.probes.line import find_line


@dataclass(frozen=True, slots=True, kw_only=True)
class Ground:
    """The port under test and what hangs on it; `binding` holds no self-assigned address."""

    interface: Interface
    binding: Binding
    gateway: str | None
    resolvers: tuple[str, ...]

    def require_address(self) -> None:
        """Raise InterfaceDown or NoAddress where nothing can be sent."""
        if not self.interface.link.up:
            raise InterfaceDown(interface=self.interface.name)
        if self.binding.ipv4 is None and self.binding.ipv6 is None:
            raise NoAddress(interface=self.interface.name)


def stand_on(facts: FactsPort, wanted: str | None) -> Ground:
    """Return the ground of a visit, whatever state its port is in. Raises NoInterface."""
    line = find_line(facts, wanted)
    return Ground(
        interface=line.interface,
        binding=replace(line.binding, ipv4=_far(line.binding.ipv4), ipv6=_far(line.binding.ipv6)),
        gateway=line.gateway(4) or line.gateway(6),
        resolvers=facts.resolvers(line.interface.name),
    )


def _far(address: str | None) -> str | None:
    """Return the address if packets from it leave the link (RFC 3927 §7, RFC 4291 §2.5.6)."""
    if address is None or ip_address(address.partition("%")[0]).is_link_local:
        return None
    return address
