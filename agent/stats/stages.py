"""The stages of a transfer to which flows were added: each one's plateau and its noise."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from agent.stats.held_back import as_arrived
from agent.stats.mean_rate import error_of_mean
from agent.stats.slices import Slice, last_of, rate_of

PLATEAU_S = 0.5
"""The end of a stage by which it is judged: ten slices, and several round trips of most lines."""

_GROUPS = 5
_GROWTH = 0.03
_CALM = 0.008
_CERTAIN = 2.0
_MOST_NOISE = 0.03


@dataclass(frozen=True, slots=True)
class Plateau:
    """The rate at the end of a stage and its standard error, octets per second."""

    rate: float
    error: float
    grows: bool

    @property
    def calm(self) -> bool:
        """Return whether it is even enough to compare another with it."""
        return not self.grows and self.error <= _CALM * self.rate


def plateau(stage: Sequence[Slice]) -> Plateau:
    """Return the plateau of a stage of at least one slice.

    `grows` says that its second half is clearly faster than its first: slow start doubles in each
    round trip, so a stage that grows is not yet at its end.
    """
    end = last_of(stage, PLATEAU_S)
    first, second = rate_of(end[: len(end) // 2] or end), rate_of(end[len(end) // 2 :])
    return Plateau(rate_of(end), error_of_mean(end, _GROUPS), second > first * (1 + _GROWTH))


def brought_nothing(before: Plateau, after: Plateau, precision: float) -> bool:
    """Return whether the step from one stage to the next changed nothing that can be told.

    A noise of more than a few percent tells nothing, so that the answer is no.
    """
    if before.rate <= 0 or after.rate <= 0:
        return False
    noise = _CERTAIN * math.hypot(before.error / before.rate, after.error / after.rate)
    change = abs(after.rate / before.rate - 1)
    return noise <= _MOST_NOISE and change <= max(precision, noise)


def single_flow(slices: Sequence[Slice], flows: Sequence[int]) -> float | None:
    """Return the plateau of the stage with one flow; None where none came before more flows."""
    if len(flows) != len(slices) or not flows or max(flows) == 1:
        return None
    count = next(i for i, n in enumerate(flows) if n > 1)
    stage = as_arrived(slices[:count])
    return plateau(stage).rate if stage and stage[-1].end_s >= PLATEAU_S else None
