"""A probe socket that plays a script on a manual clock."""

from __future__ import annotations

import heapq
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass

from agent.clock import ManualClock
from agent.ports.datagram import Event, ProbeSocket


@dataclass(frozen=True, slots=True, kw_only=True)
class Outgoing:
    """One datagram given to the scripted socket; `at_s` in seconds of the manual clock."""

    index: int
    payload: bytes
    hop_limit: int | None
    at_s: float


class ScriptedSocket:
    """Answers each datagram with the events the script gives for it.

    `script` returns events with `at_s` on the manual clock, now or later; a DoorstepError it
    raises is what `send` raises, and the datagram then gets no index. `sent` keeps everything.
    """

    def __init__(self, clock: ManualClock, script: Callable[[Outgoing], Iterable[Event]]) -> None:
        self._clock = clock
        self._script = script
        self._due: list[tuple[float, int, Event]] = []
        self._scheduled = 0
        self.clock_steps = 0
        self.sent: list[Outgoing] = []
        self.closed = False

    def send(self, payload: bytes, hop_limit: int | None = None) -> int:
        """Ask the script what comes of the datagram."""
        index = len(self.sent)
        outgoing = Outgoing(
            index=index, payload=payload, hop_limit=hop_limit, at_s=self._clock.now_s
        )
        for event in self._script(outgoing):
            heapq.heappush(self._due, (event.at_s, self._scheduled, event))
            self._scheduled += 1
        self.sent.append(outgoing)
        return index

    def poll(self, timeout_s: float) -> tuple[Event, ...]:
        """Move the clock to the next event, or by `timeout_s`, and return what is due."""
        until = self._clock.now_s + max(0.0, timeout_s)
        if self._due:
            until = min(until, max(self._due[0][0], self._clock.now_s))
        self._clock.now_s = until
        events = []
        while self._due and self._due[0][0] <= until:
            events.append(heapq.heappop(self._due)[2])
        return tuple(events)

    def due_s(self) -> float | None:
        """Return when the next event of the script is due, None where there is none."""
        return self._due[0][0] if self._due else None

    def close(self) -> None:
        """Note that the socket was given back."""
        self.closed = True


class ScriptedWait:
    """Waits on scripted sockets by moving their common clock; see `WaitTogether`."""

    def __init__(self, clock: ManualClock) -> None:
        self._clock = clock

    def __call__(self, sockets: Sequence[ProbeSocket], timeout_s: float) -> Sequence[ProbeSocket]:
        """Move the clock to the next event of any socket, or by `timeout_s`."""
        until = self._clock.now_s + max(0.0, timeout_s)
        due = [s.due_s() for s in sockets if isinstance(s, ScriptedSocket)]
        earliest = min((at_s for at_s in due if at_s is not None), default=until)
        self._clock.now_s = min(until, max(earliest, self._clock.now_s))
        return sockets
