"""A hop walk: all distances together, each attempt with its own number, silence normal.

Rounds go outwards in a paced row, so that a router with a bucket of answers is not drained. Once
the target, or a router that refuses, has answered, nothing beyond it is tried any more.
"""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass

from agent.measurements import HopWalk
from agent.units import ms_from_s

PACE_S = 0.0015
"""Between two probes: 20 distances leave within 30 ms, under any bucket refilled each 10 ms."""

ROUND_GAP_S = 0.1
"""Between two rounds, so that the first has told where the target is on most lines."""

TIME_EXCEEDED = {4: 11, 6: 3}
"""ICMP type of a router whose hop limit ran out (RFC 792; RFC 4443 §3.3)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class HopProbe:
    """One attempt: `number` is unique over the whole walk."""

    number: int
    distance: int


@dataclass(slots=True)
class _Attempt:
    distance: int
    attempt: int
    sent_s: float
    unsent: bool = False
    received_s: float | None = None
    source: str | None = None
    icmp_type: int | None = None
    icmp_code: int | None = None


class HopSchedule:
    """Says which distance to probe when, and credits each answer to its own attempt.

    Times are seconds of the timeline.
    """

    def __init__(
        self, *, max_distance: int, attempts: int, waiting_s: float, family: int, start_s: float
    ) -> None:
        self._rounds = attempts
        self._waiting_s = waiting_s
        self._time_exceeded = TIME_EXCEEDED[family]
        self._end = max_distance
        self._attempts: list[_Attempt] = []
        self._round = 0
        self._distance = 1
        self._last_s = start_s - PACE_S
        self._final_answers = 0
        self._unplaced: Counter[str] = Counter()

    def next_send_s(self) -> float | None:
        """Return when the next probe is due, None when no more will be sent."""
        while self._round < self._rounds and self._needless():
            self._step()
        if self._round == self._rounds:
            return None
        waits = self._round > 0 and self._distance == 1 and bool(self._waiting())
        return self._last_s + (ROUND_GAP_S if waits else PACE_S)

    def take(self, now_s: float) -> HopProbe:
        """Return the attempt that is sent now; only after `next_send_s` gave a time."""
        probe = HopProbe(number=len(self._attempts), distance=self._distance)
        self._attempts.append(_Attempt(distance=self._distance, attempt=self._round, sent_s=now_s))
        self._last_s = now_s
        self._step()
        return probe

    def on_sent(self, number: int, at_s: float) -> None:
        """Note when the attempt really left; a later word replaces an earlier one."""
        self._attempts[number].sent_s = at_s

    def on_unsent(self, number: int) -> None:
        """Note that the system did not take the attempt."""
        self._attempts[number].unsent = True

    def on_answer(
        self,
        number: int,
        at_s: float,
        source: str | None,
        icmp_type: int | None = None,
        icmp_code: int | None = None,
    ) -> None:
        """Note the first answer to an attempt; without ICMP type the target's own service spoke."""
        attempt = self._attempts[number]
        if attempt.received_s is not None:
            return
        attempt.received_s, attempt.source = at_s, source
        attempt.icmp_type, attempt.icmp_code = icmp_type, icmp_code
        if icmp_type != self._time_exceeded:
            self._end = min(self._end, attempt.distance)
            self._final_answers += 1

    def on_unplaced(self, source: str) -> None:
        """Note an answer that quotes too little to tell which attempt it belongs to."""
        self._unplaced[source] += 1

    def outstanding(self) -> tuple[int, ...]:
        """Return the attempts that were sent and not answered, at any distance."""
        return tuple(
            n for n, a in enumerate(self._attempts) if a.received_s is None and not a.unsent
        )

    def patience_ends_s(self) -> float:
        """Return when the last attempt that matters has been waited for."""
        return max((a.sent_s for a in self._waiting()), default=self._last_s) + self._waiting_s

    def finished(self, now_s: float) -> bool:
        """Tell whether all was sent, and everything up to the end is in or waited for."""
        if self.next_send_s() is not None:
            return False
        return not self._waiting() or now_s >= self.patience_ends_s()

    def walk(self, *, now_s: float, target: str, protocol: str) -> HopWalk:
        """Return one entry for each attempt that was answered or waited for long enough."""
        kept = [a for a in self._attempts if self._decided(a, now_s)]
        return HopWalk(
            target=target,
            protocol=protocol,
            waiting_s=self._waiting_s,
            distance=tuple(a.distance for a in kept),
            attempt=tuple(a.attempt for a in kept),
            flow=(0,) * len(kept),
            sent_s=tuple(a.sent_s for a in kept),
            rtt_ms=tuple(_rtt_ms(a) for a in kept),
            answered_by=tuple(a.source for a in kept),
            icmp_type=tuple(a.icmp_type for a in kept),
            icmp_code=tuple(a.icmp_code for a in kept),
            unplaced=tuple(sorted(self._unplaced.items())),
        )

    def _needless(self) -> bool:
        # Beyond the target every probe reaches it, so it may have answered often enough already;
        # more would only meet its limit of ICMP errors (RFC 1812 §4.3.2.8) and look like loss.
        known = self._final_answers >= self._rounds and self._distance == self._end
        return self._distance > self._end or known

    def _step(self) -> None:
        self._distance += 1
        if self._distance > self._end:
            self._distance = 1
            self._round += 1

    def _waiting(self) -> list[_Attempt]:
        return [
            a
            for a in self._attempts
            if a.received_s is None and not a.unsent and a.distance <= self._end
        ]

    def _decided(self, attempt: _Attempt, now_s: float) -> bool:
        if attempt.unsent:
            return False
        return attempt.received_s is not None or now_s >= attempt.sent_s + self._waiting_s


def _rtt_ms(attempt: _Attempt) -> float | None:
    if attempt.received_s is None:
        return None
    return max(0.0, ms_from_s(attempt.received_s - attempt.sent_s))
