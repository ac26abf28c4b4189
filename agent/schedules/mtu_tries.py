"""The packets of a path MTU search, and what they tell together."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from agent.measurements import SizeOutcome

MIN_PLPMTU = {4: 68, 6: 1280}
"""The smallest packet every path carries (RFC 8899 §5.1.2; RFC 791, RFC 8200 §5)."""


@dataclass(slots=True)
class SizeTry:
    """One packet; `distance` None where it is meant for the target."""

    size: int
    distance: int | None
    sent_s: float
    outcome: SizeOutcome = SizeOutcome.LOST
    rtt_s: float | None = None
    refused_by: str | None = None
    named: int | None = None
    answered_by: str | None = None


class SizeTries:
    """All packets in the order sent; those with a distance say nothing of a size."""

    def __init__(self, family: int) -> None:
        self._least = MIN_PLPMTU[family]
        self.all: list[SizeTry] = []

    def whole_way(self, size: int | None = None) -> Iterator[SizeTry]:
        """Yield the packets meant for the target, of one size where given."""
        for one in self.all:
            if one.distance is None and size in {None, one.size}:
                yield one

    def answered(self) -> int | None:
        """Return the largest size that came back, None where nothing did."""
        found = (t.size for t in self.whole_way() if t.outcome is SizeOutcome.ANSWERED)
        return max(found, default=None)

    def refused(self, size: int) -> bool:
        """Tell whether a router, or the own port, would not take a size or a smaller one."""
        against = (SizeOutcome.REFUSED, SizeOutcome.HELD_BACK)
        return any(t.size <= size and t.outcome in against for t in self.whole_way())

    def named(self, above: int) -> int | None:
        """Return the smallest size that a refusal of something larger than `above` names."""
        found = (t.named for t in self.whole_way() if t.size > above and t.named is not None)
        return min(found, default=None)

    def longest_s(self) -> float | None:
        """Return the longest round trip of a packet for the target."""
        return max((t.rtt_s for t in self.whole_way() if t.rtt_s is not None), default=None)

    def refuse(self, number: int, by: str | None, named: int | None) -> int | None:
        """Note a refusal; return the size it names where RFC 8899 §4.6.2 lets that be used."""
        one = self.all[number]
        if one.outcome is not SizeOutcome.LOST:
            return None
        one.outcome, one.refused_by = SizeOutcome.REFUSED, by
        # A size not smaller than the packet, or below what every path carries, is discarded.
        if named is not None and self._least <= named < one.size:
            one.named = named
        return one.named

    def outstanding(self, above: int) -> list[int]:
        """Return the numbers of unanswered packets larger than a size."""
        return [
            number
            for number, one in enumerate(self.all)
            if one.distance is None and one.size > above and one.outcome is SizeOutcome.LOST
        ]
