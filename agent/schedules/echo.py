"""A delay series on a fixed send clock: one row for each sequence number, whatever becomes of it.

The schedule never waits for an answer before the next probe, so loss cannot slow the test. A
sender that fell behind by more than one interval moves its clock on instead of catching up in a
burst, which the line would not see from ordinary traffic.
"""

from __future__ import annotations

from dataclasses import dataclass

from agent.measurements import EchoOutcome, EchoSeries
from agent.schedules.far import FarReport, Reflection
from agent.schedules.far_view import FarView, NearView, far_view
from agent.units import NS_PER_S, ms_from_s

CLOSING_S = 0.05
"""Between two probes that close a series, unless its own interval is longer."""


@dataclass(slots=True)
class _Row:
    sent_s: float
    unsent: bool = False
    received_s: float | None = None
    reflection: Reflection | None = None
    copies: int = 0
    error: tuple[str, str] | None = None


class EchoSchedule:
    """Says when to send which sequence number, and keeps what came of each.

    Times are seconds of the timeline. `epoch_ns` is the unix time in nanoseconds of the
    timeline's zero as the laptop's clock has it; one-way differences are taken against it, so
    they hold the unknown offset of the two clocks, constant over the series. After the waiting
    time of the last probe late answers are still noted for `tail_s`, where any is missing.

    Where the far end counts (`stateful`), probes that are no part of the series follow the last one
    until it or one of them is answered: its count then tells how many of the series arrived.
    """

    def __init__(
        self,
        *,
        count: int,
        interval_s: float,
        waiting_s: float,
        start_s: float,
        epoch_ns: int,
        tail_s: float = 0.0,
        stateful: bool = False,
    ) -> None:
        self._count = count
        self._interval_s = interval_s
        self._waiting_s = waiting_s
        self._tail_s = tail_s
        self._stateful = stateful
        self._due_s = start_s
        self._epoch_ns = epoch_ns
        self._rows: list[_Row] = []
        self._last_answered = -1
        self._open: dict[int, None] = {}
        self._order: list[int] = []
        self._reflections: list[tuple[int, Reflection]] = []

    @property
    def attempted(self) -> int:
        """Return how many sequence numbers of the series were sent or tried."""
        return min(len(self._rows), self._count)

    def next_send_s(self) -> float | None:
        """Return when the next probe is due, None after the last."""
        return self._due_s if self.attempted < self._count or self._closing() else None

    def end(self) -> None:
        """Send no probe more; what is under way is still waited for."""
        self._count = min(self._count, self.attempted)

    def take(self, now_s: float) -> int:
        """Return the sequence number that is sent now, and set the time of the next."""
        late = now_s - self._due_s > self._interval_s
        self._due_s = (now_s if late else self._due_s) + self._interval_s
        self._rows.append(_Row(sent_s=now_s))
        number = len(self._rows) - 1
        if number < self._count:
            self._open[number] = None
        if number >= self._count - 1:
            self._due_s = now_s + max(CLOSING_S, self._interval_s)
        return number

    def on_sent(self, number: int, at_s: float) -> None:
        """Note when the probe really left; a later word replaces an earlier one."""
        self._rows[number].sent_s = at_s

    def on_unsent(self, number: int) -> None:
        """Note that the system did not take the probe."""
        self._rows[number].unsent = True
        self._open.pop(number, None)

    def on_received(self, number: int, at_s: float, reflection: Reflection | None = None) -> None:
        """Note an answer; the first one counts, others are copies."""
        row = self._rows[number]
        row.copies += 1
        self._last_answered = max(self._last_answered, number)
        if reflection is not None:
            self._reflections.append((number, reflection))
        if row.received_s is None:
            row.received_s = at_s
            row.reflection = reflection
            self._order.append(number)
            self._open.pop(number, None)

    def on_error(self, number: int, source: str, kind: str) -> None:
        """Note an ICMP error about the probe: who sent it and its type/code."""
        row = self._rows[number]
        row.error = row.error or (source, kind)
        self._open.pop(number, None)

    def outstanding(self) -> tuple[int, ...]:
        """Return the probes that were sent and of which nothing is known yet."""
        return tuple(self._open)

    def answered(self) -> int:
        """Return how many sequence numbers were answered."""
        return len(self._order)

    def finished(self, now_s: float) -> bool:
        """Tell whether every probe was sent, and each has its answer or was waited for."""
        if self.attempted < self._count:
            return False
        return not self._open or now_s >= self.patience_ends_s()

    def patience_ends_s(self) -> float:
        """Return when the last probe sent so far has been waited for, late answers included."""
        last_s = self._rows[self.attempted - 1].sent_s if self._rows else self._due_s
        return last_s + self._waiting_s + self._tail_s

    def silent_for(self, count: int, now_s: float) -> bool:
        """Tell whether the first `count` probes were waited for, and nothing came of any probe."""
        if self.attempted < count or len(self._open) < self.attempted:
            return False
        return now_s >= self._rows[count - 1].sent_s + self._waiting_s

    def settled(self, now_s: float) -> int:
        """Return how many probes, from the first, were answered or waited for long enough."""
        waiting = (n for n in self._open if now_s < self._rows[n].sent_s + self._waiting_s)
        return min(waiting, default=self.attempted)

    def series(
        self,
        *,
        now_s: float,
        payload_bytes: int,
        load: str = "none",
        clock_steps: int = 0,
        report: FarReport | None = None,
        answers_limited: bool = False,
        authenticated: bool | None = None,
    ) -> EchoSeries:
        """Return the series up to the first probe that may still be answered.

        A round trip is (T4 - T1) - (T3 - T2): the time the reflector took is removed (RFC 8762
        §4.3.1 gives T2 and T3, RFC 5905 §8 the formula), never below zero.
        """
        rows = self._rows[: self.settled(now_s)]
        far = self._far(rows, report)
        one_way = any(row.reflection for row in rows)
        return EchoSeries(
            waiting_s=self._waiting_s,
            interval_s=self._interval_s,
            payload_bytes=payload_bytes,
            sent_s=tuple(row.sent_s for row in rows),
            rtt_ms=tuple(_rtt_ms(row) for row in rows),
            outcome=tuple(self._outcome(row) for row in rows),
            copies=tuple(row.copies for row in rows),
            arrival_order=tuple(n for n in self._order if n < len(rows)),
            far_received=far.received,
            far_order=far.order,
            far_copies=far.copies,
            far_count=far.counts,
            far_arrivals=far.arrivals,
            forward_ms=tuple(self._forward_ms(row) for row in rows) if one_way else None,
            backward_ms=tuple(self._backward_ms(row) for row in rows) if one_way else None,
            error_from=tuple((n, *row.error) for n, row in enumerate(rows) if row.error),
            load=load,
            clock_steps=clock_steps,
            answers_limited=answers_limited,
            authenticated=authenticated,
        )

    def _closing(self) -> bool:
        """Tell whether the end of the series still wants a probe that closes it."""
        if not self._stateful or not self._rows or self._last_answered >= self._count - 1:
            return False
        return self._due_s < self.patience_ends_s()

    def _outcome(self, row: _Row) -> EchoOutcome:
        if row.unsent:
            return EchoOutcome.UNSENT
        if row.received_s is not None:
            late = row.received_s - row.sent_s > self._waiting_s
            return EchoOutcome.LATE if late else EchoOutcome.ANSWERED
        return EchoOutcome.UNREACHABLE if row.error else EchoOutcome.LOST

    def _far(self, rows: list[_Row], report: FarReport | None) -> FarView:
        near = NearView(
            answered=[row.received_s is not None for row in rows],
            reflections=self._reflections,
            attempted=len(self._rows),
            unsent={number for number, row in enumerate(self._rows) if row.unsent},
            stateful=self._stateful,
        )
        return far_view(near, report)

    def _forward_ms(self, row: _Row) -> float | None:
        if row.reflection is None or row.reflection.received_ns is None:
            return None
        return ms_from_s(self._timeline_s(row.reflection.received_ns) - row.sent_s)

    def _backward_ms(self, row: _Row) -> float | None:
        if row.reflection is None or row.reflection.sent_ns is None or row.received_s is None:
            return None
        return ms_from_s(row.received_s - self._timeline_s(row.reflection.sent_ns))

    def _timeline_s(self, unix_ns: int) -> float:
        return (unix_ns - self._epoch_ns) / NS_PER_S


def _rtt_ms(row: _Row) -> float | None:
    if row.received_s is None:
        return None
    whole_s = row.received_s - row.sent_s
    residence_s = _residence_s(row.reflection)
    # A reflector whose clock steps between its two stamps must not make a round trip of it.
    believable = 0.0 <= residence_s <= whole_s
    return ms_from_s(max(0.0, whole_s - residence_s if believable else whole_s))


def _residence_s(reflection: Reflection | None) -> float:
    if reflection is None or reflection.received_ns is None or reflection.sent_ns is None:
        return 0.0
    return (reflection.sent_ns - reflection.received_ns) / NS_PER_S
