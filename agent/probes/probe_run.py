"""The loop that every probe over a datagram socket shares."""

from __future__ import annotations

from abc import ABC, abstractmethod
from typing import Protocol

from agent.clock import Timeline
from agent.errors import CannotMeasure
from agent.measurements import Reason, StampClock, State
from agent.ports.datagram import Event, Failed, ProbeSocket, Received, Sent
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
        self._refusal: CannotMeasure | None = None
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
    def went_out(self) -> bool:
        """Tell whether the system took any probe at all."""
        return bool(self._numbers)

    def until(self, deadline_s: float) -> Reason | None:
        """Run to the end of the schedule; return why it ended before, or never began."""
        started_s = self._timeline.now_s()
        while not self._pace.finished(now_s := self._timeline.now_s()):
            if self._running.stopped():
                return Reason(code="stopped")
            if now_s >= deadline_s:
                return Reason(code="time-limit", values={"after_s": now_s - started_s})
            if self._refusal and not self.went_out and now_s - started_s >= GIVE_UP_S:
                break
            self._step(now_s, deadline_s)
        return Reason.of(self._refusal) if self._refusal and not self.went_out else None

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

    def _step(self, now_s: float, deadline_s: float) -> None:
        due_s = self._pace.next_send_s()
        if due_s is not None and due_s <= now_s:
            self._send(now_s)
            due_s = self._pace.next_send_s()
        wake_s = min(self._pace.patience_ends_s() if due_s is None else due_s, deadline_s)
        timeout_s = min(wake_s - self._timeline.now_s(), LONGEST_POLL_S)
        for event in self._socket.poll(max(SHORTEST_POLL_S, timeout_s)):
            self._hear(event)

    def _put_out(self, number: int, payload: bytes, hop_limit: int | None = None) -> None:
        self._pace.on_sent(number, self._timeline.now_s())
        try:
            self._socket.send(payload, hop_limit)
        except CannotMeasure as error:
            self._refusal = error
            self._pace.on_unsent(number)
            return
        self._numbers.append(number)
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
