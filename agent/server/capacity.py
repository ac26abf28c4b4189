"""How much of the server's port may be promised, so that no test on it spoils another.

Rates are bits per second of either direction: a port carries both at once, and a client is taken to
need its larger one, so what is promised never fills one direction beyond the share below.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

# Below this load a port's queue stays short (common practice, no source); headers need 5 % of it.
SHARE = 0.85
# Lines are often set up to a tenth above their name, and headers come on top of a payload rate.
HEADROOM = 1.2
# What others may move on the port before it takes from what can be promised.
OTHERS_SHARE = 0.1


@dataclass(frozen=True, slots=True, kw_only=True)
class Budget:
    """What the port can carry, and the fastest line that it serves; None where not known.

    Without a capacity nothing is counted and everything fits.
    """

    capacity_bps: float | None = None
    largest_bps: float | None = None

    def need_bps(self, declared_bps: float | None) -> float:
        """Return what a client may use: by its own word, else as the fastest line, else all."""
        if self.capacity_bps is None:
            return 0.0
        named = self.largest_bps if declared_bps is None else declared_bps
        whole = SHARE * self.capacity_bps
        return whole if named is None else min(whole, HEADROOM * named)

    def room_bps(self, others_bps: float) -> float:
        """Return what may be promised in all beside the traffic that is no client's."""
        if self.capacity_bps is None:
            return math.inf
        excess = max(0.0, others_bps - OTHERS_SHARE * self.capacity_bps)
        return SHARE * self.capacity_bps - excess
