"""The loop that every probe over a datagram socket shares."""

from __future__ import annotations

from abc import ABC, abstractmethod
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Protocol

from agent.clock import Timeline
from agent.errors import CannotMeasure
from agent.measurements import Reason, StampClock, State
from agent.ports.datagram import Event, Failed, ProbeSocket, Received, Sent, WaitTogether
from agent.ports.running import Running

LONGEST_POLL_S = 0.1
"""How long a wish to stop may go unheard."""

SHORTEST_POLL_S = 1e-6
"""A remainder below what the clock can show would otherwise be polled for again and again."""

GIVE_UP_S = 1.0
"""How long a system that takes no probe at all is tried."""

HEADER_BYTES = {4: 28, 6: 48}
"""IP header plus eight octets of UDP or ICMP, by family (RFC 791, 8200, 768, 792)."""


class SendSchedule(Protocol):
    """What the loop asks of a schedule; times in seconds of the timeline."""

    def next_send_s(self) -> float | None:
        """Return when the next probe is due, None after the last."""
        ...

    def patience_ends_s(self) -> float:
        """Return when nothing more is waited for."""
        ...

    def finished(self, now_s: float) -> bool:
        """Tell whether the run is over."""
        ...

    def on_sent(self, number: int, at_s: float) -> None:
        """Note when a probe left."""
        ...

    def on_unsent(self, number: int) -> None:
        """Note that the system did not take a probe."""
        ...


class ProbeRun(ABC):
    """Runs a schedule over a socket, and notes what was used and who stamped what."""

    def __init__(
        self,
        socket: ProbeSocket,
        schedule: SendSchedule,
        *,
        timeline: Timeline,
        running: Running,
        family: int,
    ) -> None:
        self._socket = socket
        self._pace = schedule
        self._timeline = timeline
        self._running = running
        self._header_bytes = HEADER_BYTES[family]
        self._numbers: list[int] = []
        self._went_out = False
        self._refusal: CannotMeasure | None = None
        self._began_s = timeline.now_s()
        self._answered: set[int] = set()
        self._kernel_sent: set[int] = set()
        self._kernel_received: set[int] = set()

    @abstractmethod
    def _send(self, now_s: float) -> None:
        """Take the next probe from the schedule and put it out."""

    @abstractmethod
    def _take(self, event: Received | Failed, at_s: float) -> None:
        """Credit an answer or error that came at a time of the timeline."""

    @property
    def socket(self) -> ProbeSocket:
        """Return the socket of the run."""
        return self._socket

    @property
    def went_out(self) -> bool:
        """Tell whether the system took any probe at all."""
        return self._went_out

    def until(self, deadline_s: float) -> Reason | None:
        """Run to the end of the schedule; return why it ended before, or never began."""
        while not self.ended(now_s := self._timeline.now_s(), deadline_s):
            self.act(now_s)
            timeout_s = self.wakes_s(deadline_s) - self._timeline.now_s()
            self.hear(min(max(SHORTEST_POLL_S, timeout_s), LONGEST_POLL_S))
        return self.why_ended(now_s, deadline_s)

    def ended(self, now_s: float, deadline_s: float) -> bool:
        """Tell whether the run is over, one way or another."""
        return (
            self._pace.finished(now_s)
            or self._running.stopped()
            or now_s >= deadline_s
            or (self._nothing_leaves() and now_s - self._began_s >= GIVE_UP_S)
        )

    def why_ended(self, now_s: float, deadline_s: float) -> Reason | None:
        """Return why a run that is over never began or ended before its schedule."""
        if self._refusal is not None and self._nothing_leaves():
            return Reason.of(self._refusal)
        if self._pace.finished(now_s):
            return None
        if now_s >= deadline_s:
            return Reason(code="time-limit", values={"after_s": now_s - self._began_s})
        return Reason(code="stopped")

    def act(self, now_s: float) -> None:
        """Send a probe if one is due."""
        due_s = self._pace.next_send_s()
        if due_s is not None and due_s <= now_s:
            self._send(now_s)

    def wakes_s(self, deadline_s: float) -> float:
        """Return when the run wants its turn again."""
        due_s = self._pace.next_send_s()
        return min(self._pace.patience_ends_s() if due_s is None else due_s, deadline_s)

    def hear(self, timeout_s: float) -> None:
        """Take in what the socket has to tell, waiting at most that long for it."""
        for event in self._socket.poll(timeout_s):
            self._hear(event)

    def state(self, reason: Reason | None) -> State:
        """Return how far the run got, given why it ended early."""
        if reason is None:
            return State.COMPLETE
        return State.PARTIAL if self.went_out else State.FAILED

    def stamped_by(self) -> StampClock | None:
        """Return the kernel only where it stamped both ends of every round trip."""
        if not self._answered:
            return None
        kernel = self._answered <= self._kernel_sent & self._kernel_received
        return StampClock.KERNEL if kernel else StampClock.USER

    def _nothing_leaves(self) -> bool:
        return self._refusal is not None and not self.went_out

    def _put_out(self, number: int, payload: bytes, hop_limit: int | None = None) -> None:
        self._pace.on_sent(number, self._timeline.now_s())
        try:
            self._socket.send(payload, hop_limit)
        except CannotMeasure as error:
            self._refusal = error
            self._pace.on_unsent(number)
            return
        self._numbers.append(number)
        self._went_out = True
        self._running.used(len(payload) + self._header_bytes)

    def _hear(self, event: Event) -> None:
        at_s = self._timeline.from_monotonic(event.at_s)
        if isinstance(event, Sent):
            number = self._numbers[event.index]
            self._kernel_sent.add(number)
            self._pace.on_sent(number, at_s)
            return
        self._take(event, at_s)

    def _note_answer(self, number: int, clock: StampClock) -> None:
        if number not in self._answered and clock is StampClock.KERNEL:
            self._kernel_received.add(number)
        self._answered.add(number)


@dataclass(frozen=True, slots=True)
class Ending:
    """When a run was over, and why it ended before its schedule if it did."""

    at_s: float
    reason: Reason | None


def run_together(
    runs: Sequence[ProbeRun], wait: WaitTogether, *, timeline: Timeline, deadline_s: float
) -> tuple[Ending, ...]:
    """Run several schedules in one loop, each on its own clock; a run that is over leaves it."""
    endings: dict[ProbeRun, Ending] = {}
    while going := [run for run in runs if run not in endings]:
        for run in going:
            now_s = timeline.now_s()
            if run.ended(now_s, deadline_s):
                endings[run] = Ending(now_s, run.why_ended(now_s, deadline_s))
            else:
                run.act(now_s)
        _hear_any(going, wait, timeline, deadline_s)
    return tuple(endings[run] for run in runs)


def _hear_any(
    runs: Sequence[ProbeRun], wait: WaitTogether, timeline: Timeline, deadline_s: float
) -> None:
    wakes_s = min(run.wakes_s(deadline_s) for run in runs)
    timeout_s = min(max(SHORTEST_POLL_S, wakes_s - timeline.now_s()), LONGEST_POLL_S)
    by_socket = {id(run.socket): run for run in runs}
    for socket in wait([run.socket for run in runs], timeout_s):
        by_socket[id(socket)].hear(0.0)
