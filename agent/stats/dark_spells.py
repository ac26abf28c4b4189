"""Spells in which nothing of a delay series was answered: the way itself was away."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from itertools import groupby

from agent.measurements import EchoOutcome, EchoSeries

LEAST_S = 0.2
"""Shorter runs of losses are what noise does to a line (common practice, no source)."""

LEAST_PROBES = 5

CAME_BACK = frozenset({EchoOutcome.ANSWERED, EchoOutcome.LATE})


@dataclass(frozen=True, slots=True)
class Spell:
    """A time of silence: of the first probe lost and of the first that came back, visit seconds."""

    begins_s: float
    ends_s: float

    @property
    def length_s(self) -> float:
        """Return how long it lasted, s."""
        return self.ends_s - self.begins_s

    def meets(self, other: Spell) -> bool:
        """Tell whether both were silent at one moment."""
        return self.begins_s < other.ends_s and other.begins_s < self.ends_s


def dark_spells(series: EchoSeries) -> tuple[Spell, ...]:
    """Return the spells of a series in order; one that was never answered has none.

    A spell that the series did not outlast ends with its last probe.
    """
    if not any(outcome in CAME_BACK for outcome in series.outcome):
        return ()
    return tuple(s for s in _runs(series) if s is not None and s.length_s >= LEAST_S)


def any_meets(spell: Spell, others: Iterable[Spell]) -> bool:
    """Tell whether any other spell was silent at a moment of this one."""
    return any(spell.meets(other) for other in others)


def _runs(series: EchoSeries) -> Iterator[Spell | None]:
    place = 0
    for answered, group in groupby(series.outcome, key=CAME_BACK.__contains__):
        first, place = place, place + sum(1 for _ in group)
        if not answered and place - first >= LEAST_PROBES:
            yield Spell(series.sent_s[first], series.sent_s[min(place, len(series.sent_s) - 1)])
