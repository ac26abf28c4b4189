"""What must be known before a finding can be said: measurements, readings, or what settings tell.

A need is met by any one of its sources, a rule's needs only all together.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from enum import StrEnum

from agent.diagnosis.facts import Facts
from agent.measurements import Kind, Role, State


@dataclass(frozen=True, slots=True, kw_only=True)
class Measured:
    """A result of a kind and role, any where None; `tried`: that it was tried is enough."""

    kind: Kind | None = None
    role: Role | None = None
    tried: bool = False

    def known(self, facts: Facts) -> bool:
        """Tell whether such a measurement gave a result, or was tried where that is enough."""
        return any(
            i.measurement.state is not State.SKIPPED
            if self.tried
            else (i.statistics is not None or i.measurement.observed is not None)
            for i in facts.evidence.items
            if self.kind in {None, i.measurement.kind} and self.role in {None, i.measurement.role}
        )


@dataclass(frozen=True, slots=True)
class Refused:
    """Some measurement was not made, for the reason of this code."""

    reason: str

    def known(self, facts: Facts) -> bool:
        """Tell whether a measurement was refused so."""
        told = (i.measurement.reason for i in facts.evidence.items)
        return any(reason is not None and reason.code == self.reason for reason in told)


@dataclass(frozen=True, slots=True)
class Noted:
    """A fact of fitness, which readings of the laptop and its port gave."""

    fact: str

    def known(self, facts: Facts) -> bool:
        """Tell whether the fact holds."""
        return facts.fitness(self.fact) is not None


class Told(StrEnum):
    """What is known beside all measuring: from the settings, or from the operator's server."""

    TAG = "tag"
    POOLS = "pools"
    DHCP_SERVERS = "dhcp-servers"
    DELEGATED_BITS = "delegated-bits"
    SEEN_ADDRESS = "seen-address"
    CARD_FAULT = "card-fault"
    PROFILES = "profiles"
    CONDITIONS = "conditions"

    def known(self, facts: Facts) -> bool:
        """Tell whether it is known."""
        return _KNOWN[self](facts)


_KNOWN: Mapping[Told, Callable[[Facts], bool]] = {
    Told.TAG: lambda facts: facts.around.tag is not None,
    Told.POOLS: lambda facts: bool(facts.around.pools),
    Told.DHCP_SERVERS: lambda facts: bool(facts.around.dhcp_servers),
    Told.DELEGATED_BITS: lambda facts: facts.around.delegated_bits is not None,
    Told.SEEN_ADDRESS: lambda facts: facts.around.seen is not None,
    Told.CARD_FAULT: lambda facts: facts.circumstances.card_fault is not None,
    Told.PROFILES: lambda facts: bool(facts.profiles),
    Told.CONDITIONS: lambda facts: bool(facts.conditions),
}

Source = Measured | Refused | Noted | Told
Need = frozenset[Source]


def any_of(*sources: Source | Need) -> Need:
    """Return the need that one of several sources meets."""
    nested = (one if isinstance(one, frozenset) else frozenset({one}) for one in sources)
    return frozenset[Source]().union(*nested)


def met(need: Need, facts: Facts) -> bool:
    """Tell whether a need is met."""
    return any(source.known(facts) for source in need)


def noted(fact: str) -> Need:
    """Return the need of a fact of fitness."""
    return any_of(Noted(fact))


def _measured(kind: Kind, role: Role | None = None, *, tried: bool = False) -> Need:
    return any_of(Measured(kind=kind, role=role, tried=tried))


LINK = _measured(Kind.LINK)
LEASE = _measured(Kind.LEASE)
NAMES = _measured(Kind.DNS)
NAMES_TRIED = _measured(Kind.DNS, tried=True)
PATH = _measured(Kind.PATH)
PATH_TO_SERVER = _measured(Kind.PATH, Role.SERVER)
PAGES = _measured(Kind.HTTP)
PORTS = _measured(Kind.REACH)
RATE = _measured(Kind.THROUGHPUT)
RATE_TRIED = _measured(Kind.THROUGHPUT, tried=True)
DELAY = _measured(Kind.DELAY)
TO_GATEWAY = _measured(Kind.DELAY, Role.GATEWAY)
TO_MODEM = _measured(Kind.DELAY, Role.MODEM)
TO_FIRST_HOP = _measured(Kind.DELAY, Role.FIRST_HOP)
TO_SERVER = _measured(Kind.DELAY, Role.SERVER)
TO_LINE_END = any_of(TO_FIRST_HOP, TO_GATEWAY)
"""Plugged into modem or ONT the gateway is the line's far end."""

BEYOND = any_of(
    *(
        Measured(role=role, tried=True)
        for role in (Role.FIRST_HOP, Role.SERVER, Role.OUTSIDE, Role.RESOLVER)
    )
)
"""Something past the near equipment was tried."""
