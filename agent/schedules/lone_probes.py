"""Finding the distance of routers that quote too little: one probe under way at a time."""

from __future__ import annotations

from collections.abc import Sequence

from agent.schedules.hop_attempts import HopAnswer

SHORTEST_S, LONGEST_S = 0.06, 0.3
"""Bounds of how long a lone probe has the line for itself."""

TIMES_LONGEST = 2.0
"""Of the longest answer seen: what took longer than that is not expected any more."""

BUDGET_S = 1.0
"""For all lone probes together, so that the walk stays within two seconds."""


class LoneProbes:
    """Goes over silent distances with one probe under way; what answers is asked again there.

    An answer that came late from an earlier distance would be credited to the wrong one; it
    cannot come twice in the same place, so only two answers of one address count.
    """

    def __init__(self) -> None:
        self.begun = False
        self.patience_s = LONGEST_S
        self._distances: list[int] = []
        self._ends_s = 0.0
        self._free_s = 0.0
        self._under_way: int | None = None
        self._asked = 0
        self._first: tuple[int, HopAnswer] | None = None

    def begin(self, distances: Sequence[int], longest_s: float, last_sent_s: float) -> None:
        """Take the distances to go over, outwards; the line is free once the rounds are in."""
        wanted_s = TIMES_LONGEST * longest_s if longest_s else LONGEST_S
        self.patience_s = min(LONGEST_S, max(SHORTEST_S, wanted_s))
        self._distances = list(distances)
        self._free_s = last_sent_s + self.patience_s
        self._ends_s = self._free_s + BUDGET_S
        self.begun = True

    @property
    def distance(self) -> int:
        """Return where the next probe goes."""
        return self._distances[0]

    def next_send_s(self, *, within: int) -> float | None:
        """Return when the next probe is due, None when no more will be sent.

        `within` is the distance beyond which nothing is tried.
        """
        over = not self._distances or self._distances[0] > within
        late = self._free_s + self.patience_s > self._ends_s
        return None if over or late else self._free_s

    def on_taken(self, number: int, at_s: float) -> None:
        """Note the number of the probe that goes out now."""
        distance = self._distances.pop(0)
        if distance != self._asked:
            self._first = None
        self._asked, self._under_way = distance, number
        self._free_s = at_s + self.patience_s

    def on_answer(self, answer: HopAnswer) -> tuple[tuple[int, HopAnswer], ...] | None:
        """Return the attempts that an answer without a name settles, each with its own answer.

        Empty while the answer has to be confirmed or could not be, None where no probe was under
        way for it.
        """
        number, self._under_way = self._under_way, None
        if number is None or answer.at_s > self._free_s:
            return None
        self._free_s = answer.at_s
        if self._first is None:
            self._first = (number, answer)
            self._distances.insert(0, self._asked)
            return ()
        first_number, first = self._first
        return ((first_number, first), (number, answer)) if first.source == answer.source else ()
