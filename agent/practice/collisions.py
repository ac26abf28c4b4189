"""A cable whose ends disagree on duplex: one listens before it sends, the other does not.

The laptop's port is in full duplex and sends whenever it likes. The router's is in half duplex: it
takes a frame that arrives while it sends for a collision (IEEE 802.3 clause 4), drops it and gives
its own up. A frame that long is never sent again by the port, unless the collision falls into its
first 512 bit times.
"""

from __future__ import annotations

import math
import random
from dataclasses import dataclass, field

from agent.practice.relay import (
    COUNTERS,
    IP_TYPES,
    WAYS,
    Direction,
    RelayPlan,
    counters_of,
)

ROUND_FRAME_OCTETS = 24
"""Preamble 8, check sequence 4 and gap 12 beside what a capture shows (IEEE 802.3 §4.4.2)."""

SLOT_OCTETS = 64
"""512 bit times (IEEE 802.3 §4.4.2): within them a collision is noticed and sent again."""

MEMORY_S = 0.05
LOST = COUNTERS.index("lost")


@dataclass(slots=True)
class Busy:
    """How busy one direction is, as a mean that forgets: frames a second, share of the time."""

    frames_s: float = 0.0
    share: float = 0.0
    _last: float = field(default=-math.inf)

    def sent(self, now: float, airtime_s: float) -> None:
        """Note a frame that takes so long."""
        kept = self._kept(now)
        self.frames_s = self.frames_s * kept + 1 / MEMORY_S
        self.share = self.share * kept + airtime_s / MEMORY_S
        self._last = now

    def at(self, now: float) -> tuple[float, float]:
        """Return (frames a second, share of the time) as they are now."""
        kept = self._kept(now)
        return self.frames_s * kept, min(1.0, self.share * kept)

    def _kept(self, now: float) -> float:
        return math.exp(-max(0.0, now - self._last) / MEMORY_S)


def chance_listening(other_frames_s: float, airtime_s: float, octets: int) -> float:
    """Return how probable it is that the other end begins while a listening end sends.

    The other end's frames are taken as a Poisson stream.
    """
    if octets <= SLOT_OCTETS:
        return 0.0
    return 1 - math.exp(-other_frames_s * airtime_s)


class Colliding(Direction):
    """One way of such a cable; `listens` where the sending end is the one in half duplex."""

    def __init__(
        self,
        base: tuple[str, RelayPlan, memoryview],
        *,
        own: Busy,
        other: Busy,
        listens: bool,
        share: float,
        speed_bps: float,
    ) -> None:
        name, plan, counters = base
        way = plan.up if name == "up" else plan.down
        super().__init__(name, way, f"{plan.seed} {name}", counters, plan.log)
        self._chance = random.Random(f"{plan.seed} collisions {name}")
        self._own, self._other, self._listens = own, other, listens
        self._share, self._speed_bps = share, speed_bps

    def take(self, frame: bytes, now: float) -> None:
        """Take a frame, or lose it to a frame of the other direction."""
        octets = len(frame) + ROUND_FRAME_OCTETS
        airtime_s = octets * 8 / self._speed_bps
        self._own.sent(now, airtime_s)
        frames_s, busy = self._other.at(now)
        chance = chance_listening(frames_s, airtime_s, len(frame)) if self._listens else busy
        if frame[12:14] in IP_TYPES and self._chance.random() < chance * self._share:
            self._counters[LOST] += 1
            return
        super().take(frame, now)


@dataclass(frozen=True, slots=True, kw_only=True)
class Mismatch:
    """Makes the two directions: `share` of all overlaps spoil the frame, at a port speed."""

    share: float
    speed_bps: float

    def __call__(self, plan: RelayPlan, shared: memoryview) -> tuple[Direction, Direction]:
        """Return the directions up and down of a plan."""
        up, down = Busy(), Busy()
        first, second = (
            Colliding(
                (name, plan, counters_of(shared, place)),
                own=own,
                other=other,
                listens=name == "down",
                share=self.share,
                speed_bps=self.speed_bps,
            )
            for place, (name, own, other) in enumerate(
                zip(WAYS, (up, down), (down, up), strict=True)
            )
        )
        return first, second
