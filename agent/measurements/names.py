"""Queries to one resolver, one entry per query sent."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from agent.measurements.columns import require_equal_lengths

ABSENT_LABEL = "doorstep-absent-"
"""How the first label of a name begins that was asked because it must not exist.

An address in its answer shows that the resolver rewrites name errors (RFC 1035 §4.1.1 RCODE 3).
Such queries miss every cache, so their times do not belong to the resolver's round trips.
"""


class NameOutcome(StrEnum):
    """What became of one query."""

    ANSWERED = "answered"
    LATE = "late"
    LOST = "lost"
    MALFORMED = "malformed"
    REFUSED = "refused"
    UNREACHABLE = "unreachable"


@dataclass(frozen=True, slots=True, kw_only=True)
class NameQueries:
    """Columns, one entry per query: `rtt_ms` None unless answered, `rcode` per RFC 1035 §4.1.1.

    `waiting_s` is how long an answer was waited for. `addresses` holds, per query, the addresses
    of the answer.
    """

    resolver: str
    transport: str
    waiting_s: float
    name: tuple[str, ...] = ()
    qtype: tuple[str, ...] = ()
    sent_s: tuple[float, ...] = ()
    rtt_ms: tuple[float | None, ...] = ()
    outcome: tuple[NameOutcome, ...] = ()
    rcode: tuple[int | None, ...] = ()
    addresses: tuple[tuple[str, ...], ...] = ()
    authenticated: tuple[bool | None, ...] = ()
    truncated: tuple[bool | None, ...] = ()

    def __post_init__(self) -> None:
        require_equal_lengths(
            "queries to a resolver",
            name=self.name,
            qtype=self.qtype,
            sent_s=self.sent_s,
            rtt_ms=self.rtt_ms,
            outcome=self.outcome,
            rcode=self.rcode or None,
            addresses=self.addresses or None,
        )
