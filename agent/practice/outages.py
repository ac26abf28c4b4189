"""When a line that loses its synchronisation again and again is dark."""

from __future__ import annotations

import random

SHORTEST, LONGEST = 0.5, 1.5
"""How much a time between two outages differs from their mean, evenly drawn."""


class Outages:
    """The dark times of one line, the same in both directions, drawn from a seed.

    `dark_s` is how long each lasts, `every_s` the mean time of light between two; both seconds.
    `began_s` is when the line came up, on the monotonic clock.
    """

    def __init__(self, dark_s: float, every_s: float, seed: int, began_s: float) -> None:
        self._dark_s = dark_s
        self._every_s = every_s
        self._draw = random.Random(f"{seed} outages")
        self._dark = False
        self._until_s = began_s + self._light_s()

    def dark_at(self, now_s: float) -> bool:
        """Return whether the line is dark; asked with times that never go back."""
        while now_s >= self._until_s:
            self._dark = not self._dark
            self._until_s += self._dark_s if self._dark else self._light_s()
        return self._dark

    def _light_s(self) -> float:
        return self._every_s * self._draw.uniform(SHORTEST, LONGEST)
