"""Which port is the line under test, and what its sockets are tied to."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from ipaddress import ip_address

from agent.errors import InterfaceDown, NoAddress, NoInterface
from agent.measurements import Medium
from agent.ports.binding import Binding
from agent.ports.facts import FactsPort, HeldAddress, Interface

MEDIA = (Medium.WIRED, Medium.PPP, Medium.WIRELESS, Medium.MOBILE, Medium.UNKNOWN, Medium.TUNNEL)
"""Which medium is rather the line when several could be: a cable before the air."""


@dataclass(frozen=True, slots=True, kw_only=True)
class TestedLine:
    """The interface under test and the binding of everything that is sent over it."""

    __test__ = False

    interface: Interface
    binding: Binding

    def gateway(self, family: int) -> str | None:
        """Return the default gateway of a family (4 or 6)."""
        return self.interface.gateway(family)

    def require_address(self) -> None:
        """Raise InterfaceDown or NoAddress where nothing can be sent."""
        if not self.interface.link.up:
            raise InterfaceDown(interface=self.interface.name)
        if self.binding.ipv4 is None and self.binding.ipv6 is None:
            raise NoAddress(interface=self.interface.name)


def find_line(facts: FactsPort, wanted: str | None = None) -> TestedLine:
    """Return the line under test: the named interface, or the one that is most likely the line.

    Raises NoInterface where the named one, or any at all, is missing. A port without link or
    address is still the line: that is what the link and the lease then say.
    """
    ports = facts.interfaces()
    if wanted is not None:
        chosen = next((port for port in ports if port.name == wanted), None)
    else:
        chosen = min(_candidates(ports), key=_unlikely, default=None)
    if chosen is None:
        raise NoInterface(interface=wanted or "that could be the line")
    return TestedLine(interface=chosen, binding=binding_of(chosen))


def _candidates(ports: Sequence[Interface]) -> list[Interface]:
    beneath = {port.link.parent for port in ports if port.ways}
    return [
        port
        for port in ports
        if port.link.medium is not Medium.LOOPBACK and port.name not in beneath
    ]


def _unlikely(port: Interface) -> tuple[bool, bool, bool, int, int, bool, int]:
    """Return a rank: up, no tunnel, default route, its metric, medium, real hardware, order."""
    return (
        not port.link.up,
        port.link.medium is Medium.TUNNEL,
        not port.ways,
        min((way.metric for way in port.ways if way.family == 4), default=1 << 32),
        MEDIA.index(port.link.medium),
        port.link.virtual,
        port.index,
    )


def binding_of(port: Interface) -> Binding:
    """Return what sockets are tied to: the port and its first good address of each family."""
    return Binding(
        interface=port.name,
        ipv4=_best(port.addresses, 4),
        ipv6=_best(port.addresses, 6),
    )


def _best(addresses: Sequence[HeldAddress], family: int) -> str | None:
    """Return the first usable address that reaches past the link; IPv4 takes what there is."""
    usable = [a for a in addresses if a.family == family and a.usable]
    wide = [a for a in usable if not ip_address(a.address.partition("%")[0]).is_link_local]
    last_resort = usable if family == 4 else []
    return next((a.address for a in (*wide, *last_resort)), None)
