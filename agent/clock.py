"""Time behind one port: monotonic seconds for every duration, wall time only as a label."""

from __future__ import annotations

import time
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from typing import Protocol


class Clock(Protocol):
    """What the agent may ask about time."""

    def monotonic_s(self) -> float:
        """Return seconds on a clock that never steps."""
        ...

    def wall(self) -> datetime:
        """Return the local time with its offset; a label, never a duration."""
        ...

    def sleep(self, seconds: float) -> None:
        """Wait for the given seconds."""
        ...


class SystemClock:
    """The operating system's clocks; the only reader of wall time in the agent."""

    def monotonic_s(self) -> float:
        """Return seconds on the system's monotonic clock."""
        return time.monotonic_ns() / 1e9

    def wall(self) -> datetime:
        """Return the local time with its offset."""
        return datetime.now(UTC).astimezone()

    def sleep(self, seconds: float) -> None:
        """Wait for the given seconds."""
        time.sleep(max(0.0, seconds))


def unix_ns() -> int:
    """Return the wall clock in nanoseconds since 1970: a stamp for packets, never a duration."""
    return time.time_ns()


@dataclass
class ManualClock:
    """A clock that moves only when told; `sleep` advances it at once."""

    now_s: float = 0.0
    start: datetime = datetime(2026, 3, 2, 9, 0, tzinfo=UTC)

    def monotonic_s(self) -> float:
        """Return the manual time in seconds."""
        return self.now_s

    def wall(self) -> datetime:
        """Return the start label moved on by the manual time."""
        return self.start + timedelta(seconds=self.now_s)

    def sleep(self, seconds: float) -> None:
        """Advance by the given seconds without waiting."""
        self.now_s += max(0.0, seconds)


@dataclass(frozen=True, slots=True)
class Timeline:
    """Seconds since a visit began; what probes see of time."""

    clock: Clock
    origin_s: float

    @classmethod
    def begin(cls, clock: Clock) -> Timeline:
        """Return a timeline whose zero is now."""
        return cls(clock, clock.monotonic_s())

    def now_s(self) -> float:
        """Return seconds since the timeline began."""
        return self.clock.monotonic_s() - self.origin_s

    def from_monotonic(self, monotonic_s: float) -> float:
        """Return timeline seconds for a stamp of the monotonic clock."""
        return monotonic_s - self.origin_s

    def sleep(self, seconds: float) -> None:
        """Wait for the given seconds."""
        self.clock.sleep(seconds)
