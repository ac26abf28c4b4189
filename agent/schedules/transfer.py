"""What a bulk transfer does next: open flows, begin, look again, stop. Times are seconds."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from agent.measurements import Ended
from agent.schedules.flows import FlowRamp
from agent.settings.model import ThroughputPlan
from agent.stats.looks import looks_passed
from agent.stats.slices import Slice
from agent.stats.sustained import sustained

OPENING_S = 5.0
"""How long connections may take to open; a line that needs longer has another fault."""

GRACE_S = 0.5
"""Time for a flow to say itself why it did not open."""

STALL_S = 3.0
"""Silence of the whole transfer that counts as its death: three times a TCP time-out's usual
first value (RFC 6298 §2.1: 1 s), so that one lost tail is not taken for it."""

GLANCE_S = 0.005
"""Pause between looks while connections open and first bytes are awaited."""

DRAIN_S = 1.5
"""Kept free at the end for what is still on its way and the far end's receipt."""


class Cut(StrEnum):
    """Why a transfer stopped before its plan was done; "" where it was done."""

    NONE = ""
    FAULT = "fault"
    STALL = "stalled"
    TIME_LIMIT = "time-limit"


@dataclass(frozen=True, slots=True, kw_only=True)
class Sight:
    """All flows at one moment.

    `opening`, `ready` and `running` count flows by phase; `broken` those that ended by a fault.
    `bytes` is what arrived on all of them, None where nobody here can tell; `first_byte_s` is when
    the first of it came.
    """

    at_s: float
    opening: int = 0
    ready: int = 0
    running: int = 0
    broken: int = 0
    bytes: int | None = 0
    first_byte_s: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Open:
    """Open so many flows more."""

    flows: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Begin:
    """Start the bodies on so many more of the open flows, on all where None."""

    flows: int | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Look:
    """Look again at a time; `closes_slice` says that this look ends a slice."""

    at_s: float
    closes_slice: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Stop:
    """End the transfer."""

    ended: Ended
    cut: Cut = Cut.NONE


Step = Open | Begin | Look | Stop


class TransferSchedule:
    """One flow first, more until they bring nothing, an end as soon as the interval is narrow.

    In mode `fixed` all flows begin at once and run for the plan's time. Everything is counted in
    slices of fixed length. `deadline_s` is when everything must be over, the last receipt included.
    The data cap stops the transfer one slice early rather than late. `origin_s` is the first byte's
    time, None before it. The interval is that of `sustained`, as from a stored transfer. Where
    nobody here can count, only time ends it.
    """

    def __init__(
        self,
        plan: ThroughputPlan,
        *,
        deadline_s: float,
        max_bytes: int,
        confidence: float = 0.95,
    ) -> None:
        self._plan = plan
        self._confidence = confidence
        self._deadline_s = deadline_s - DRAIN_S
        self._max_bytes = min(max_bytes, plan.max_bytes)
        self._opened_s: float | None = None
        self._begun_s: float | None = None
        self.origin_s: float | None = None
        self._ramp: FlowRamp | None = None
        self._added = False
        self._planned = 0
        self._looks = 0
        self._slices: list[Slice] = []
        self._flows: list[int] = []
        self._bytes = 0
        self._largest = 0
        self._moved_s = 0.0

    @property
    def longest_s(self) -> float | None:
        """Return the longest duration where the interval may end it sooner, None where not."""
        return self._plan.seconds if self._plan.mode == "adaptive" else None

    def next_step(self, sight: Sight) -> Step:
        """Return what to do, given what the flows look like now."""
        if self._opened_s is None:
            self._opened_s = sight.at_s
            return Open(flows=self._plan.flows)
        if self._begun_s is None:
            return self._opening(sight, self._opened_s)
        if self.origin_s is None:
            return self._starting(sight, self._begun_s)
        if self._added:
            self._added = False
            return self._next_look(self.origin_s, sight.at_s)
        return self._carrying(sight, self.origin_s)

    def _opening(self, sight: Sight, opened_s: float) -> Step:
        most_s = min(OPENING_S + GRACE_S, self._deadline_s - opened_s)
        if sight.opening and sight.at_s - opened_s < most_s:
            return Look(at_s=sight.at_s + GLANCE_S)
        if not sight.ready:
            return Stop(ended=Ended.FAULT, cut=Cut.FAULT if sight.broken else Cut.STALL)
        self._begun_s = sight.at_s
        one_first = self._plan.mode == "adaptive" and sight.bytes is not None
        return Begin(flows=1) if one_first else Begin()

    def _starting(self, sight: Sight, begun_s: float) -> Step:
        if sight.bytes is None:
            return self._uncounted(sight, begun_s)
        if sight.first_byte_s is not None:
            return self._start_counting(sight.first_byte_s, sight.first_byte_s - begun_s)
        if sight.broken and not sight.running:
            return Stop(ended=Ended.FAULT, cut=Cut.FAULT)
        if sight.at_s - begun_s >= STALL_S:
            return Stop(ended=Ended.FAULT, cut=Cut.STALL)
        return Look(at_s=sight.at_s + GLANCE_S)

    def _uncounted(self, sight: Sight, begun_s: float) -> Step:
        """Begin the flows that still wait: without a count there is nothing to judge them by."""
        look = self._start_counting(begun_s, 0.0)
        self._added = sight.ready > 0
        return Begin() if self._added else look

    def _start_counting(self, origin_s: float, round_trip_s: float) -> Look:
        self.origin_s = self._moved_s = origin_s
        if self._plan.mode == "adaptive":
            precision = self._plan.precision
            self._ramp = FlowRamp(round_trip_s=round_trip_s, precision=precision)
        return self._next_look(origin_s, origin_s)

    def _carrying(self, sight: Sight, origin_s: float) -> Step:
        self._note(sight, origin_s)
        stop = self._ending(sight, origin_s)
        if stop is not None:
            return stop
        more = self._more_flows(sight, origin_s)
        if more:
            self._added = True
            return Begin(flows=more)
        return self._next_look(origin_s, sight.at_s)

    def _ending(self, sight: Sight, origin_s: float) -> Stop | None:
        if sight.broken:
            return Stop(ended=Ended.FAULT, cut=Cut.FAULT)
        if sight.bytes is not None and sight.at_s - self._moved_s >= STALL_S:
            return Stop(ended=Ended.FAULT, cut=Cut.STALL)
        if self._bytes + self._largest > self._max_bytes:
            return Stop(ended=Ended.DATA)
        if self._planned >= round(self._plan.seconds / self._plan.slice_s):
            return Stop(ended=Ended.TIME)
        if sight.at_s >= self._deadline_s:
            return Stop(ended=Ended.TIME, cut=Cut.TIME_LIMIT)
        return Stop(ended=Ended.INTERVAL) if self._narrow(sight.at_s - origin_s) else None

    def _narrow(self, elapsed_s: float) -> bool:
        """Return whether this is a planned look at which the interval is narrow enough."""
        if self._ramp is None or not self._ramp.done or not self._slices:
            return False
        looks, seen = looks_passed(elapsed_s, self._plan.seconds), self._looks
        self._looks = looks
        if looks == seen:
            return False
        found = sustained(
            self._slices,
            self._flows,
            longest_s=self._plan.seconds,
            early=True,
            confidence=self._confidence,
        )
        return found is not None and found.within(self._plan.precision)

    def _more_flows(self, sight: Sight, origin_s: float) -> int:
        if self._ramp is None or sight.bytes is None:
            return 0
        used = (sight.at_s - origin_s) / self._plan.seconds
        budget = max(used, self._bytes / self._max_bytes)
        return self._ramp.more(self._slices, sight.running, sight.ready, budget)

    def _note(self, sight: Sight, origin_s: float) -> None:
        if sight.bytes is None:
            return
        arrived = sight.bytes - self._bytes
        begin_s, end_s = self._slices[-1].end_s if self._slices else 0.0, sight.at_s - origin_s
        if end_s > begin_s:
            self._slices.append(Slice(begin_s, end_s, arrived))
            self._flows.append(sight.running)
        if arrived > 0:
            self._moved_s = sight.at_s
        self._largest = max(self._largest, arrived)
        self._bytes = sight.bytes

    def _next_look(self, origin_s: float, now_s: float) -> Look:
        """Return the look that ends the next slice; a late look swallows the ends it missed."""
        passed = int((now_s - origin_s) / self._plan.slice_s + 1e-6)
        self._planned = max(self._planned, passed) + 1
        return Look(at_s=origin_s + self._planned * self._plan.slice_s, closes_slice=True)
