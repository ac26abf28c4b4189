"""From the kernel's wall-clock stamps to the monotonic clock, with clock steps noticed.

Linux stamps packets with CLOCK_REALTIME. Both clocks are slewed alike, so the difference of
the two is constant until somebody sets the wall clock; then it jumps.
"""

from __future__ import annotations

import time
from collections.abc import Callable

from agent.clock import unix_ns

STEP_NS = 50_000
"""A jump this large counts as a step; smaller ones stay inside the error bound of 0.1 ms."""

SLACK_NS = 1_000_000_000
"""How far before the last look an event may have been stamped and still be new."""

SLACK_AFTER_STEP_NS = 20_000_000
"""The same where two offsets compete for one stamp."""

_TRIES = 5
_SHARP_NS = 3_000


def read_offset() -> tuple[int, int]:
    """Return realtime minus monotonic in nanoseconds, and how far it may be off."""
    best = (0, STEP_NS * 1_000)
    for _ in range(_TRIES):
        before = time.monotonic_ns()
        wall = unix_ns()
        after = time.monotonic_ns()
        half = (after - before) // 2
        if half < best[1]:
            best = (wall - before - half, half)
        if half <= _SHARP_NS:
            break
    return best


class StampClockMap:
    """Turns kernel stamps of one socket into monotonic nanoseconds."""

    def __init__(self, read: Callable[[], tuple[int, int]] = read_offset) -> None:
        self._read = read
        self._offset = read()[0]
        self._previous: int | None = None
        self.steps = 0

    def look(self) -> None:
        """Compare the clocks anew; to be called before the stamps of a batch are turned."""
        offset, blur = self._read()
        self._previous = None
        if abs(offset - self._offset) > STEP_NS + blur:
            self._previous, self._offset = self._offset, offset
            self.steps += 1

    def monotonic_ns(self, stamp_ns: int, *, since_ns: int, until_ns: int) -> int | None:
        """Return the monotonic time of a stamp of something that happened between two times.

        None where the stamp does not fit, or where a step leaves two times that both would.
        """
        stepped = self._previous is not None
        earliest_ns = since_ns - (SLACK_AFTER_STEP_NS if stepped else SLACK_NS)
        offsets = (self._offset, self._previous)
        times = [stamp_ns - offset for offset in offsets if offset is not None]
        fitting = [t for t in times if earliest_ns <= t <= until_ns + STEP_NS]
        return fitting[0] if len(fitting) == 1 else None
