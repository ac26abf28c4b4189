"""The attempts of a hop walk: what was sent, what came back, and the columns made of it."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass

from agent.measurements import HopExtensions, HopWalk
from agent.units import ms_from_s

MOST_FURTHER = 256
MOST_UNPLACED = 64
"""Bounds on what a far end can make this laptop keep."""


@dataclass(frozen=True, slots=True, kw_only=True)
class HopAnswer:
    """An answer to one attempt; without ICMP type the target's own service spoke."""

    at_s: float
    source: str | None
    icmp_type: int | None = None
    icmp_code: int | None = None
    extensions: HopExtensions | None = None


@dataclass(slots=True, kw_only=True)
class Attempt:
    """One probe: `attempt` counts within its flow and distance, `patience_s` is its own."""

    distance: int
    flow: int
    attempt: int
    sent_s: float
    patience_s: float
    unsent: bool = False
    answer: HopAnswer | None = None

    def awaited(self) -> bool:
        """Tell whether an answer may still come."""
        return self.answer is None and not self.unsent

    def decided(self, now_s: float) -> bool:
        """Tell whether the attempt went out and was answered or waited for long enough."""
        if self.unsent:
            return False
        return self.answer is not None or now_s >= self.sent_s + self.patience_s


class HopAttempts:
    """All attempts of one walk by number, and the answers that belong to none."""

    def __init__(self) -> None:
        self._all: list[Attempt] = []
        self._further: list[tuple[int, str]] = []
        self._unplaced: Counter[str] = Counter()

    def __len__(self) -> int:
        """Return how many there are."""
        return len(self._all)

    def __getitem__(self, number: int) -> Attempt:
        """Return the attempt with a number."""
        return self._all[number]

    def add(self, *, distance: int, flow: int, at_s: float, patience_s: float) -> int:
        """Take a new attempt in and return its number."""
        before = sum(a.distance == distance and a.flow == flow for a in self._all)
        self._all.append(
            Attempt(
                distance=distance, flow=flow, attempt=before, sent_s=at_s, patience_s=patience_s
            )
        )
        return len(self._all) - 1

    def awaited(self) -> list[Attempt]:
        """Return the attempts that may still be answered."""
        return [a for a in self._all if a.awaited()]

    def answering(self) -> frozenset[int]:
        """Return the distances at which any attempt was answered."""
        return frozenset(a.distance for a in self._all if a.answer is not None)

    def longest_s(self) -> float:
        """Return the longest time any answer took, zero where there was none."""
        taken = (a.answer.at_s - a.sent_s for a in self._all if a.answer is not None)
        return max(taken, default=0.0)

    def keep_further(self, number: int, source: str | None) -> None:
        """Keep one more answer to an attempt that was answered before."""
        if source is not None and len(self._further) < MOST_FURTHER:
            self._further.append((number, source))

    def keep_unplaced(self, source: str) -> None:
        """Count an answer that belongs to no attempt for certain."""
        if source in self._unplaced or len(self._unplaced) < MOST_UNPLACED:
            self._unplaced[source] += 1

    @property
    def unplaced(self) -> Counter[str]:
        """Return how many answers of each address belong to no attempt for certain."""
        return self._unplaced

    def walk(self, *, now_s: float, target: str, protocol: str, waiting_s: float) -> HopWalk:
        """Return one entry for each attempt that is decided."""
        numbers = [n for n, a in enumerate(self._all) if a.decided(now_s)]
        kept = [self._all[n] for n in numbers]
        place = {number: index for index, number in enumerate(numbers)}
        extensions = tuple(a.answer.extensions if a.answer else None for a in kept)
        return HopWalk(
            target=target,
            protocol=protocol,
            waiting_s=waiting_s,
            distance=tuple(a.distance for a in kept),
            attempt=tuple(a.attempt for a in kept),
            flow=tuple(a.flow for a in kept),
            sent_s=tuple(a.sent_s for a in kept),
            rtt_ms=tuple(_rtt_ms(a) for a in kept),
            answered_by=tuple(a.answer.source if a.answer else None for a in kept),
            icmp_type=tuple(a.answer.icmp_type if a.answer else None for a in kept),
            icmp_code=tuple(a.answer.icmp_code if a.answer else None for a in kept),
            unplaced=tuple(sorted(self._unplaced.items())),
            extensions=extensions if any(extensions) else (),
            further=tuple((place[n], s) for n, s in self._further if n in place),
        )


def _rtt_ms(attempt: Attempt) -> float | None:
    if attempt.answer is None:
        return None
    return max(0.0, ms_from_s(attempt.answer.at_s - attempt.sent_s))
