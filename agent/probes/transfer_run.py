"""The sampling loop of a bulk transfer: does what the schedule says, keeps what it sees."""

from __future__ import annotations

import secrets
from collections.abc import Callable, Iterable
from dataclasses import dataclass, field
from urllib.parse import urlsplit, urlunsplit

from agent.clock import Timeline
from agent.codec.card import SLICE_S
from agent.errors import CannotMeasure, ServerBusy
from agent.measurements import Direction, Ended, TcpCounters
from agent.ports.running import Running
from agent.ports.stream import (
    Flow,
    FlowEnd,
    FlowFacts,
    FlowOrder,
    FlowPhase,
    FlowReading,
    StreamPort,
    Usage,
)
from agent.schedules.transfer import DRAIN_S, OPENING_S, Begin, Cut, Look, Open, Sight, Stop
from agent.schedules.transfer import TransferSchedule as Schedule

SAMPLE_S = 1.0
FAULT_DRAIN_S = 0.1
"""A far end that died has nothing more to say."""


def flow_orders(
    url: str, direction: Direction, token: str | None, flows: int, body_bytes: int | None
) -> tuple[FlowOrder, ...]:
    """Return one order per flow.

    Two uploads to one name would overwrite each other at a plain file server; a URL with a query
    belongs to a server that tells them apart itself. What is no URL is left for the flow to tell.
    """
    if direction is Direction.DOWN:
        return tuple(FlowOrder(direction=direction, url=url, token=token) for _ in range(flows))
    return tuple(
        FlowOrder(direction=direction, url=own, token=token, body_bytes=body_bytes)
        for own in _upload_urls(url, flows)
    )


def _upload_urls(url: str, flows: int) -> tuple[str, ...]:
    try:
        parts = urlsplit(url)
    except ValueError:
        return (url,) * flows
    if parts.query:
        return (url,) * flows
    stem = "" if parts.path.endswith("/") else "-"
    run = secrets.token_hex(4)
    names = (f"{parts.path or '/'}{stem}{run}-{number}" for number in range(flows))
    return tuple(urlunsplit(parts._replace(path=name)) for name in names)


@dataclass(slots=True)
class Columns:
    """The slices so far: end (seconds from the first byte), payload octets, flows that ran."""

    end_s: list[float] = field(default_factory=list)
    bytes: list[int] = field(default_factory=list)
    flows: list[int] = field(default_factory=list)

    @property
    def last_s(self) -> float:
        """Return where the last slice ends."""
        return self.end_s[-1] if self.end_s else 0.0

    def add(self, end_s: float, arrived: int, flows: int) -> None:
        """Add a slice."""
        self.end_s.append(end_s)
        self.bytes.append(arrived)
        self.flows.append(flows)

    def until_last_byte(self) -> Columns:
        """Return the slices without the silence at their end."""
        length = max((i for i, count in enumerate(self.bytes, start=1) if count), default=0)
        return Columns(self.end_s[:length], self.bytes[:length], self.flows[:length])


class TransferRun:
    """One transfer; after `until` everything that it saw can be read."""

    def __init__(
        self,
        streams: StreamPort,
        schedule: Schedule,
        orders: Iterable[FlowOrder],
        *,
        timeline: Timeline,
        running: Running,
    ) -> None:
        self._streams = streams
        self._schedule = schedule
        self._orders = iter(orders)
        self._timeline = timeline
        self._running = running
        self._flows: list[Flow] = []
        self._readings: list[FlowReading] = []
        self._begun: list[Flow] = []
        self._ends: list[FlowEnd] = []
        self._usage: list[tuple[float, Usage]] = []
        self._counted_bytes = 0
        self.columns = Columns()
        self.tcp_first: tuple[TcpCounters, ...] = ()
        self.tcp_last: tuple[TcpCounters, ...] = ()
        self.tcp_samples: tuple[TcpCounters, ...] = ()
        self._sampled_s = 0.0
        self.ended = Ended.FAULT
        self.cut = Cut.NONE
        self.interrupted = False
        self.counted_here = True
        self.by_answers = False
        self.facts: FlowFacts | None = None

    def until(self, deadline_s: float) -> None:
        """Run the transfer to its end, closing every connection whatever happens."""
        try:
            self._follow(deadline_s)
        finally:
            self._finish(deadline_s)

    def _follow(self, deadline_s: float) -> None:
        closes_slice = False
        while not self._running.stopped():
            sight = self._look()
            if closes_slice:
                self._close_slice(sight)
            step = self._schedule.next_step(sight)
            closes_slice = isinstance(step, Look) and step.closes_slice
            if isinstance(step, Stop):
                self.ended, self.cut = step.ended, step.cut
                return
            self._do(step, deadline_s)
        self.interrupted = True
        self.ended = Ended.TIME

    def _do(self, step: Open | Begin | Look, deadline_s: float) -> None:
        if isinstance(step, Open):
            self._open(step.flows, deadline_s)
        elif isinstance(step, Begin):
            self._begin(step.flows)
        else:
            if step.closes_slice and not self._usage:
                self.tcp_first = self._counters(self._begun)
                self._note_usage()
            self._timeline.sleep(step.at_s - self._timeline.now_s())

    def _open(self, count: int, deadline_s: float) -> None:
        within_s = min(OPENING_S, deadline_s - self._timeline.now_s())
        for _, order in zip(range(count), self._orders, strict=False):
            self._flows.append(self._streams.open(order, within_s=within_s))

    def _begin(self, count: int | None) -> None:
        """Begin so many flows that wait; what counters say before anyone looks belongs to none."""
        waiting = [
            flow
            for flow, reading in zip(self._flows, self._readings, strict=True)
            if reading.phase is FlowPhase.READY and flow not in self._begun
        ]
        chosen = waiting[:count]
        if self._usage:
            self.tcp_first += self._counters(chosen)
        for flow in chosen:
            flow.begin()
        self._begun += chosen
        if self.facts is None and chosen:
            self.facts = chosen[0].facts()

    def _look(self) -> Sight:
        at_s = self._timeline.now_s()
        self._readings = [flow.reading() for flow in self._flows]
        phases = [reading.phase for reading in self._readings]
        counts = [reading.bytes for reading in self._readings]
        known = [count for count in counts if count is not None]
        self.counted_here = len(known) == len(counts)
        self.by_answers = any(reading.by_answers for reading in self._readings)
        return Sight(
            at_s=at_s,
            opening=phases.count(FlowPhase.OPENING),
            ready=self._waiting(),
            running=phases.count(FlowPhase.RUNNING),
            broken=self._broken(),
            bytes=sum(known) if self.counted_here else None,
            first_byte_s=self._first_byte_s(),
        )

    def _waiting(self) -> int:
        pairs = zip(self._flows, self._readings, strict=True)
        return sum(r.phase is FlowPhase.READY and f not in self._begun for f, r in pairs)

    def _broken(self) -> int:
        """Count the flows that died; one that never carried does not spoil those that do.

        Unless the server had no turn for it: a server so full is no measure of the line.
        """
        pairs = zip(self._flows, self._readings, strict=True)
        relevant = [r for flow, r in pairs if not self._begun or flow in self._begun]
        if any(r.phase is FlowPhase.RUNNING and r.bytes for r in relevant):
            relevant = [r for r in relevant if r.bytes or isinstance(r.fault, ServerBusy)]
        return sum(r.phase is FlowPhase.ENDED for r in relevant)

    def _first_byte_s(self) -> float | None:
        stamps = [r.first_byte_s for r in self._readings if r.first_byte_s is not None]
        return self._timeline.from_monotonic(min(stamps)) if stamps else None

    def _close_slice(self, sight: Sight) -> None:
        origin_s = self._schedule.origin_s
        assert origin_s is not None
        if sight.bytes is not None:
            arrived = sight.bytes - self._counted_bytes
            self._counted_bytes = sight.bytes
            self._running.used(arrived)
            self.columns.add(sight.at_s - origin_s, arrived, sight.running)
        self._sample(sight.at_s)

    def _sample(self, at_s: float) -> None:
        if at_s - self._sampled_s >= SAMPLE_S:
            self.tcp_samples += self._counters(self._begun)
            self._sampled_s = at_s

    def _finish(self, deadline_s: float) -> None:
        self._note_usage()
        self.tcp_last = self._counters(self._begun)
        patience_s = FAULT_DRAIN_S if self.ended is Ended.FAULT else DRAIN_S
        left_s = max(0.0, min(patience_s, deadline_s - self._timeline.now_s()))
        for flow in self._flows:
            flow.stop(left_s)
        self._ends = [flow.finish() for flow in self._flows]
        self._running.used(max(0, (self.server_bytes() or 0) - self._counted_bytes))

    def _note_usage(self) -> None:
        self._usage.append((self._timeline.now_s(), self._streams.usage()))

    def _counters(self, flows: Iterable[Flow]) -> tuple[TcpCounters, ...]:
        at_s = self._timeline.now_s()
        read = (flow.counters(at_s) for flow in flows)
        return tuple(counters for counters in read if counters is not None)

    @property
    def began_s(self) -> float | None:
        """Return when the first byte came, None before it."""
        return self._schedule.origin_s

    @property
    def longest_s(self) -> float | None:
        """Return how long it might last where its interval can end it, None where it cannot."""
        return self._schedule.longest_s

    @property
    def fault(self) -> CannotMeasure | None:
        """Return the first fault of a flow, None where none had one."""
        return next((r.fault for r in self._readings if r.fault is not None), None)

    def flow_bytes(self) -> tuple[int, ...]:
        """Return what arrived on each flow that began, up to the last look."""
        pairs = zip(self._flows, self._readings, strict=True)
        return tuple(r.bytes or 0 for flow, r in pairs if flow in self._begun)

    def server_bytes(self) -> int | None:
        """Return the far end's own total, None where any flow got no count from it."""
        told = [
            end.server_bytes
            for flow, end in zip(self._flows, self._ends, strict=True)
            if flow in self._begun
        ]
        known = [count for count in told if count is not None]
        return sum(known) if known and len(known) == len(told) else None

    def far_columns(self) -> Columns:
        """Return the far end's slices of all flows; it put them on one time scale."""
        receipts = [end.receipt.slices_100ms for end in self._ends if end.receipt is not None]
        columns = Columns()
        for i in range(max(map(len, receipts), default=0)):
            arrived = sum(slices[i] for slices in receipts if i < len(slices))
            columns.add((i + 1) * SLICE_S, arrived, len(receipts))
        return columns

    def interface_bytes(self, direction: Direction) -> int | None:
        """Return what the interface carried in the direction between first byte and stop."""
        if direction is Direction.DOWN:
            return self._rise(lambda usage: usage.received_bytes)
        return self._rise(lambda usage: usage.sent_bytes)

    def interface_packets(self, direction: Direction) -> int | None:
        """Return the packets of `interface_bytes`."""
        if direction is Direction.DOWN:
            return self._rise(lambda usage: usage.received_packets)
        return self._rise(lambda usage: usage.sent_packets)

    def _rise(self, total: Callable[[Usage], int | None]) -> int | None:
        before, after = total(self._usage[0][1]), total(self._usage[-1][1])
        return None if before is None or after is None else after - before

    def cpu_ratio(self) -> float | None:
        """Return processor time over wall time between first byte and stop."""
        return self._share(lambda usage: usage.processor_s)

    def waited_ratio(self) -> float | None:
        """Return the time that threads waited for a processor over the same wall time."""
        return self._share(lambda usage: usage.waited_s)

    def _share(self, total: Callable[[Usage], float | None]) -> float | None:
        (begun_s, first), (ended_s, last) = self._usage[0], self._usage[-1]
        before, after = total(first), total(last)
        if before is None or after is None or ended_s <= begun_s:
            return None
        return (after - before) / (ended_s - begun_s)
