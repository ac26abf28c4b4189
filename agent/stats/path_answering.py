"""Whether a hop that leaves probes unanswered loses them, or merely limits its answers.

Routers limit ICMP errors (RFC 1812 §4.3.2.8, RFC 4443 §2.4), so unanswered probes are no loss
unless every hop from there on shows it too.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from agent.stats.fisher import chance_of_more

SIGNIFICANT = 0.05
"""Below this chance a later hop is better: cautious towards calling a hop lossy."""

STRICT = 0.01
"""Below this chance a hop is worse than those before it."""

LEAST_LATER = 2
"""Hops beyond that must show a loss: one alone may limit its own answers."""


@dataclass(frozen=True, slots=True)
class Tally:
    """Of one distance: whether each attempt was answered, in the order sent."""

    attempts: tuple[bool, ...]

    @property
    def sent(self) -> int:
        """Return how many were sent."""
        return len(self.attempts)

    @property
    def missed(self) -> int:
        """Return how many were not answered."""
        return self.attempts.count(False)

    @property
    def answers(self) -> bool:
        """Tell whether any was answered."""
        return any(self.attempts)

    def runs_dry(self) -> bool:
        """Tell whether all misses follow all answers, as where a bucket of answers is empty."""
        return self.answers and not any(self.attempts[-self.missed :])


def answering(tallies: Sequence[Tally]) -> tuple[str, ...]:
    """Return for each distance "all", "silent", "limited", "lossy" or "some"; see `Hop`."""
    return tuple(_word(tallies, place) for place in range(len(tallies)))


def _word(tallies: Sequence[Tally], place: int) -> str:
    own = tallies[place]
    if not own.missed:
        return "all"
    later = [t for t in tallies[place + 1 :] if t.answers]
    if any(_worse(own, other, SIGNIFICANT) for other in (*later, *_pooled(later))):
        return "limited" if own.answers else "silent"
    if not own.answers:
        return "silent"
    before = [t for t in tallies[:place] if t.answers]
    return "lossy" if _loses(own, before, later) else "some"


def _loses(own: Tally, before: Sequence[Tally], later: Sequence[Tally]) -> bool:
    if not before or len(later) < LEAST_LATER or own.runs_dry():
        return False
    (clean,), (beyond,) = _pooled(before), _pooled(later)
    return _worse(own, clean, STRICT) and _worse(beyond, clean, STRICT)


def _worse(one: Tally, other: Tally, chance: float) -> bool:
    """Tell whether one leaves significantly more unanswered than the other."""
    return chance_of_more(one.missed, one.sent, other.missed, other.sent) < chance


def _pooled(tallies: Sequence[Tally]) -> tuple[Tally, ...]:
    """Return one tally of all, none of none."""
    return (Tally(tuple(a for t in tallies for a in t.attempts)),) if tallies else ()
