"""How many flows a transfer needs: one first, then more until they bring nothing; pure."""

from __future__ import annotations

from collections.abc import Sequence

from agent.stats.held_back import as_arrived
from agent.stats.slices import Slice
from agent.stats.stages import PLATEAU_S, Plateau, brought_nothing, plateau

FACTOR = 2
SETTLING_ROUND_TRIPS = 8
"""Slow start doubles in each: ten segments (RFC 6928) become 2,560 in eight."""

LEAST_SETTLING_S = 0.2
MOST_SETTLING_S = 1.0
LONGEST_STAGE_S = 1.5
MOST_OF_BUDGET = 0.35
"""Share of time or data that stages may use; then all flows that are left start at once."""


class FlowRamp:
    """Stages of 1, 2, 4, 8 ... flows, each judged at its plateau.

    `round_trip_s` is about one round trip. Flows are added as long as the last step changed the
    rate by more than its noise, or the noise hides what it changed.
    """

    def __init__(self, *, round_trip_s: float, precision: float) -> None:
        settling_s = SETTLING_ROUND_TRIPS * round_trip_s
        self._settling_s = min(max(settling_s, LEAST_SETTLING_S), MOST_SETTLING_S)
        self._precision = precision
        self._stage_from = 0
        self._before: Plateau | None = None
        self.done = False

    def more(self, slices: Sequence[Slice], running: int, spare: int, budget: float) -> int:
        """Return how many flows to add now; sets `done` once no more will come.

        `spare` flows are open and idle; `budget` is the share of time or data that is used up.
        """
        if not spare:
            self.done = True
        if self.done:
            return 0
        if budget >= MOST_OF_BUDGET:
            self.done = True
            return spare
        return self._judged(slices, running, spare)

    def _judged(self, slices: Sequence[Slice], running: int, spare: int) -> int:
        stage = slices[self._stage_from :]
        lasted_s = stage[-1].end_s - stage[0].begin_s if stage else 0.0
        if lasted_s < self._settling_s + PLATEAU_S - 1e-9:
            return 0
        reached = plateau(as_arrived(slices)[self._stage_from :])
        if not reached.calm and lasted_s < LONGEST_STAGE_S:
            return 0
        if self._before and brought_nothing(self._before, reached, self._precision):
            self.done = True
            return 0
        self._before, self._stage_from = reached, len(slices)
        return min(spare, running * (FACTOR - 1))
