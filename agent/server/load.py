"""How busy the server is: its processors, its port, and whether tests got in each other's way."""

from __future__ import annotations

import os
from collections.abc import Callable
from dataclasses import dataclass

from agent.server.port import Counters
from agent.units import BITS_PER_BYTE

# Headers and repeated segments of our own clients' bodies are no one else's traffic.
OVERHEAD = 1.1
# Load at which one test may hold back another.
FULL_SHARE = 0.9
FULL_PROCESSOR = 0.95
# What others move beside a single test, as a share of the port, before it counts as company.
COMPANY_SHARE = 0.1
KEPT_S = 3_600.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Rates:
    """Bits per second in both directions, as seen from the clients."""

    down_bps: float = 0.0
    up_bps: float = 0.0

    @property
    def larger_bps(self) -> float:
        """Return the rate of the busier direction."""
        return max(self.down_bps, self.up_bps)


class PortLoad:
    """What a port moves in all, and beside the bodies of our own clients."""

    def __init__(self, read: Callable[[], Counters | None], capacity_bps: float | None) -> None:
        self.seen: Rates | None = None
        self.others_bps = 0.0
        self._read = read
        self._capacity_bps = capacity_bps
        self._before: tuple[Counters, float] | None = None
        self._crowded_s: float | None = None

    def read(self, own: Rates, now_s: float) -> None:
        """Take a reading beside what our own clients moved since the one before."""
        now = self._read()
        if now is None:
            self.seen = own
        elif self._before is not None and now_s > self._before[1]:
            self.seen = _rates(self._before[0], now, now_s - self._before[1])
        self._before = None if now is None else (now, now_s)
        if self.seen is not None:
            down = self.seen.down_bps - OVERHEAD * own.down_bps
            up = self.seen.up_bps - OVERHEAD * own.up_bps
            self.others_bps = max(0.0, down, up)

    def judge(self, clients: int, cpu_ratio: float | None, now_s: float) -> None:
        """Remember the moment if several moved at once and there was not enough for all."""
        capacity_bps, seen = self._capacity_bps, self.seen
        full = capacity_bps and seen and seen.larger_bps > FULL_SHARE * capacity_bps
        company = capacity_bps and self.others_bps > COMPANY_SHARE * capacity_bps
        busy = cpu_ratio is not None and cpu_ratio > FULL_PROCESSOR
        if (clients > 1 and (full or busy)) or (clients and full and company):
            self._crowded_s = now_s

    def crowded_s(self, now_s: float) -> float | None:
        """Return how long ago that was, None where it was not lately."""
        if self._crowded_s is None or now_s - self._crowded_s > KEPT_S:
            return None
        return now_s - self._crowded_s


class ProcessorShare:
    """How much of the processors it may use this process used lately, 0..1."""

    def __init__(self) -> None:
        self.ratio: float | None = None
        self._before: tuple[float, float] | None = None

    def read(self, now_s: float) -> None:
        """Take a reading; `ratio` becomes the share since the reading before."""
        used = os.times()
        spent_s = used.user + used.system
        if self._before is not None and now_s > self._before[1]:
            share = (spent_s - self._before[0]) / (now_s - self._before[1]) / _processors()
            self.ratio = min(1.0, max(0.0, share))
        self._before = (spent_s, now_s)


def _rates(before: Counters, now: Counters, seconds: float) -> Rates:
    """Return the rates between two readings; a counter that fell was set back, and says nothing."""
    return Rates(
        down_bps=max(0, now.sent - before.sent) * BITS_PER_BYTE / seconds,
        up_bps=max(0, now.received - before.received) * BITS_PER_BYTE / seconds,
    )


def _processors() -> int:
    if hasattr(os, "sched_getaffinity"):
        return len(os.sched_getaffinity(0))
    return os.cpu_count() or 1
