"""A hop walk: all distances together, each attempt with its own number, silence normal.

Rounds go outwards in a paced row, so that a router with a bucket of answers is not drained. Once
the target, or a router that refuses, has answered, nothing beyond it is tried any more. A second
flow follows the first, for what routers hide who spread flows over several ways.

A router may quote no more than the transport header (RFC 792), which is the same in all probes of
one flow. Where such answers came, the silent distances are probed once more with one probe under
way at a time, and an answer counts once it has come twice from the same address.
"""

from __future__ import annotations

from dataclasses import dataclass

from agent.measurements import HopWalk
from agent.schedules.hop_attempts import Attempt, HopAnswer, HopAttempts
from agent.schedules.lone_probes import LoneProbes

PACE_S = 0.0015
"""Between two probes: 20 distances leave within 30 ms, under any bucket refilled each 10 ms."""

ROUND_GAP_S = 0.1
"""Between two rounds, so that the first has told where the target is on most lines."""

LONGER_BY = 2
"""How many hops longer than the first flow's way another may be before it is given up."""

MOST_SECOND = 2
"""Attempts of the second flow: with the first they stay within a bucket of six answers, the burst
that Linux allows each sender (net/ipv4/icmp.c, inet_peer.c)."""

TIME_EXCEEDED = {4: 11, 6: 3}
"""ICMP type of a router whose hop limit ran out (RFC 792; RFC 4443 §3.3)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class HopProbe:
    """One attempt: `number` is unique over the whole walk."""

    number: int
    distance: int
    flow: int = 0


@dataclass(slots=True)
class _Flow:
    """How far one flow goes: `end` is where it was told to stop, by `finals` answers."""

    attempts: int
    end: int
    finals: int = 0


class HopSchedule:
    """Says which distance to probe when, and credits each answer to its own attempt.

    Times are seconds of the timeline. `flows` is how many the caller can send in, one or two.
    """

    def __init__(
        self,
        *,
        max_distance: int,
        attempts: int,
        waiting_s: float,
        family: int,
        start_s: float,
        flows: int = 1,
    ) -> None:
        self._waiting_s = waiting_s
        self._time_exceeded = TIME_EXCEEDED[family]
        counts = (attempts, min(attempts, MOST_SECOND))[:flows]
        self._flows = [_Flow(attempts=count, end=max_distance) for count in counts]
        self._rounds = [number for number, count in enumerate(counts) for _ in range(count)]
        self._attempts = HopAttempts()
        self._lone = LoneProbes()
        self._round = 0
        self._distance = 1
        self._last_s = start_s - PACE_S

    def next_send_s(self) -> float | None:
        """Return when the next probe is due, None when no more will be sent."""
        while self._round < len(self._rounds) and self._needless():
            self._step()
        if self._round == len(self._rounds):
            return self._next_lone_s()
        waits = self._round > 0 and self._distance == 1 and bool(self._awaited())
        return self._last_s + (ROUND_GAP_S if waits else PACE_S)

    def take(self, now_s: float) -> HopProbe:
        """Return the attempt that is sent now; only after `next_send_s` gave a time."""
        self._last_s = now_s
        if self._round == len(self._rounds):
            return self._take_lone(now_s)
        flow, distance = self._rounds[self._round], self._distance
        number = self._attempts.add(
            distance=distance, flow=flow, at_s=now_s, patience_s=self._waiting_s
        )
        self._step()
        return HopProbe(number=number, distance=distance, flow=flow)

    def on_sent(self, number: int, at_s: float) -> None:
        """Note when the attempt really left; a later word replaces an earlier one."""
        self._attempts[number].sent_s = at_s

    def on_unsent(self, number: int) -> None:
        """Note that the system did not take the attempt."""
        self._attempts[number].unsent = True

    def on_answer(self, number: int, answer: HopAnswer) -> None:
        """Note an answer to an attempt; the first is the attempt's own, others are kept beside."""
        attempt = self._attempts[number]
        if attempt.answer is not None:
            self._attempts.keep_further(number, answer.source)
            return
        attempt.answer = answer
        if answer.icmp_type != self._time_exceeded:
            flow = self._flows[attempt.flow]
            flow.end = min(flow.end, attempt.distance)
            flow.finals += 1

    def on_short_quote(self, answer: HopAnswer) -> tuple[int, ...]:
        """Note an answer that names no attempt; return those it is now known to belong to."""
        placed = self._lone.on_answer(answer)
        if placed is None:
            self._attempts.keep_unplaced(answer.source or "")
            return ()
        for number, its_answer in placed:
            self.on_answer(number, its_answer)
        return tuple(number for number, _ in placed)

    def on_foreign(self, source: str | None) -> None:
        """Note an answer that quotes no probe of this walk."""
        self._attempts.keep_unplaced(source or "")

    def patience_ends_s(self) -> float:
        """Return when the last attempt that matters has been waited for."""
        ends = (a.sent_s + a.patience_s for a in self._awaited())
        return max(ends, default=self._last_s)

    def finished(self, now_s: float) -> bool:
        """Tell whether all was sent, and everything up to the end is in or waited for."""
        if self.next_send_s() is not None:
            return False
        return not self._awaited() or now_s >= self.patience_ends_s()

    def walk(self, *, now_s: float, target: str, protocol: str) -> HopWalk:
        """Return one entry for each attempt that was answered or waited for long enough."""
        return self._attempts.walk(
            now_s=now_s, target=target, protocol=protocol, waiting_s=self._waiting_s
        )

    def _needless(self) -> bool:
        # Beyond the target every probe reaches it, so it may have answered often enough already;
        # more would only meet its limit of ICMP errors (RFC 1812 §4.3.2.8) and look like loss.
        flow = self._flows[self._rounds[self._round]]
        known = flow.finals >= flow.attempts and self._distance == flow.end
        return known or self._distance > self._reach(self._rounds[self._round])

    def _reach(self, number: int) -> int:
        """Return how far a flow is probed."""
        first, flow = self._flows[0], self._flows[number]
        if number and first.finals:
            return min(flow.end, first.end + LONGER_BY)
        return flow.end

    def _step(self) -> None:
        self._distance += 1
        if self._distance > self._reach(self._rounds[self._round]):
            self._distance = 1
            self._round += 1

    def _awaited(self) -> list[Attempt]:
        return [a for a in self._attempts.awaited() if a.distance <= self._reach(a.flow)]

    def _next_lone_s(self) -> float | None:
        if not self._lone.begun:
            if not self._attempts.unplaced:
                return None
            silent = set(range(1, self._flows[0].end + 1)) - self._attempts.answering()
            self._lone.begin(sorted(silent), self._attempts.longest_s(), self._last_s)
        return self._lone.next_send_s(within=self._flows[0].end)

    def _take_lone(self, now_s: float) -> HopProbe:
        distance = self._lone.distance
        number = self._attempts.add(
            distance=distance, flow=0, at_s=now_s, patience_s=self._lone.patience_s
        )
        self._lone.on_taken(number, now_s)
        return HopProbe(number=number, distance=distance)
