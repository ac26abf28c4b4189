"""Facts that no kernel can play, laid over the real ones and marked so in the record."""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Any

from agent.errors import UsageError
from agent.measurements import LeaseFacts, LinkFacts, Medium
from agent.ports.facts import Counters, FactsPort, Interface, Load, Way

LINK_FACTS = ("medium", "speed_bps", "duplex", "mtu_bytes", "bus_bps")
LOAD_FACTS = ("on_battery", "virtual_machine", "power_saver", "memory_free_bytes")


def with_told(facts: FactsPort, told: str | None) -> FactsPort:
    """Return the facts with those of a JSON object {interface: {name: value}} laid over them.

    Without one they are returned as they are. Raises UsageError for a text that is none.
    """
    if not told:
        return facts
    try:
        ((interface, values),) = json.loads(told).items()
        return InjectedFacts(facts, str(interface), dict(values))
    except (ValueError, TypeError, AttributeError) as error:
        raise UsageError(
            problem="The facts that a practice network tells cannot be read.",
            remedy="Unset the variable, or run 'doorstep practice' anew.",
        ) from error


@dataclass(frozen=True, slots=True)
class InjectedFacts:
    """A facts port whose named facts are replaced on one interface and for the laptop.

    `injected` maps names of LINK_FACTS and LOAD_FACTS to values; `medium` is a Medium or its word.
    """

    inner: FactsPort
    interface: str
    injected: Mapping[str, Any]

    def __post_init__(self) -> None:
        unknown = sorted(set(self.injected) - {*LINK_FACTS, *LOAD_FACTS})
        if unknown:
            known = ", ".join((*LINK_FACTS, *LOAD_FACTS))
            raise UsageError(
                problem=f"The fact {unknown[0]} cannot be injected.", remedy=f"Known: {known}."
            )

    def interfaces(self) -> tuple[Interface, ...]:
        """Return the interfaces, the named one with its injected facts."""
        return tuple(
            replace(port, link=self._link(port.link)) if port.name == self.interface else port
            for port in self.inner.interfaces()
        )

    def route(self, address: str) -> Way:
        """Return the way of the inner port."""
        return self.inner.route(address)

    def leases(self, interface: str) -> tuple[LeaseFacts, ...]:
        """Return the leases of the inner port."""
        return self.inner.leases(interface)

    def resolvers(self, interface: str) -> tuple[str, ...]:
        """Return the resolvers of the inner port."""
        return self.inner.resolvers(interface)

    def counters(self, interface: str) -> Counters:
        """Return the counters of the inner port."""
        return self.inner.counters(interface)

    def load(self) -> Load:
        """Return the load with its injected facts."""
        new = self._chosen(LOAD_FACTS)
        return replace(self.inner.load(), **new, injected=tuple(new))

    def _link(self, link: LinkFacts) -> LinkFacts:
        new = self._chosen(LINK_FACTS)
        marks = tuple(new)
        if "medium" in new:
            new["medium"] = Medium(new["medium"])
        return replace(link, **new, injected=marks)

    def _chosen(self, names: tuple[str, ...]) -> dict[str, Any]:
        return {name: self.injected[name] for name in names if name in self.injected}
