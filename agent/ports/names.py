"""Looking up names over the tested line only."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Protocol

from agent.measurements import NameOutcome


@dataclass(frozen=True, slots=True, kw_only=True)
class NameAnswer:
    """What came of one query to one resolver; times in milliseconds.

    `names` are those a PTR query found, without the final dot.
    """

    outcome: NameOutcome
    rtt_ms: float | None = None
    rcode: int | None = None
    addresses: tuple[str, ...] = ()
    authenticated: bool | None = None
    truncated: bool | None = None
    names: tuple[str, ...] = ()


class NamesPort(Protocol):
    """Queries bound to the tested interface; never the system's own resolver."""

    def query(self, resolver: str, name: str, qtype: str, within_s: float) -> NameAnswer:
        """Send one query to one resolver and wait for its answer."""
        ...

    def resolve(self, name: str, family: int, within_s: float) -> tuple[str, ...]:
        """Return the addresses of a name, asking the line's resolvers in turn.

        A literal address is returned as it is. Raises NameNotResolved.
        """
        ...
