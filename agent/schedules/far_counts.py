"""What the counts of a stateful reflector tell of probes whose answers never came (RFC 8762 §4.3).

The reflector numbers its answers from 0. Between two answered probes its number moves on by what
reached it meanwhile, so that no other word from it is needed.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass
from itertools import pairwise

from agent.schedules.far import Reflection

Known = tuple[bool | None, ...]


@dataclass(frozen=True, slots=True)
class _Seen:
    """The reflector's numbers: the first of each probe answered, and all of them in order."""

    first: dict[int, int]
    counts: list[int]

    @property
    def copied(self) -> bool:
        """Return whether a probe was doubled on the way there: it has two numbers."""
        return len(self.counts) > len(self.first)

    def unseen(self, low: int, high: int) -> int | None:
        """Return how many answers between two numbers did not come; None where they cross."""
        if high <= low:
            return None
        return high - low - 1 - sum(low < count < high for count in self.counts)


def received_by_counts(
    sent: int,
    reflections: Iterable[tuple[int, Reflection]],
    *,
    stateful: bool = False,
    unsent: Collection[int] = (),
) -> Known:
    """Return, per probe, whether the far end received it; None where the counts do not tell.

    `reflections` pairs each answer, copies included, with its sequence number. Between two
    answered probes the count moves on by the packets that reached the far end; where that is
    none or all of the unanswered ones, their fate is known. Once a probe was seen doubled on the
    way there, what moved the count on may have been a copy. A reflector not known to be `stateful`
    whose counts equal the sender's numbers throughout may be stateless, and then tells nothing of
    the others. Probes that are `unsent` never left.
    """
    pairs = list(reflections)
    seen = _seen(pairs)
    known: list[bool | None] = [None] * sent
    for number in unsent:
        known[number] = False
    for number in seen.first:
        known[number] = True
    if not stateful and all(number == reflection.count for number, reflection in pairs):
        return tuple(known)
    for (a, count_a), (b, count_b) in pairwise([(-1, -1), *sorted(seen.first.items())]):
        reached = seen.unseen(count_a, count_b)
        inside = [number for number in range(a + 1, b) if number not in unsent]
        if reached == 0 or (reached == len(inside) and not seen.copied):
            for number in inside:
                known[number] = reached != 0
    return tuple(known)


def arrivals_by_counts(
    sent: int, known: Sequence[bool | None], reflections: Iterable[tuple[int, Reflection]]
) -> int | None:
    """Return how many of the first `sent` probes reached the far end; None where it is not told.

    `known` is per probe, those after the first `sent` included. The count on the first answer to
    the last probe or a later one is the end count: it tells how many arrived even where it stays
    open which, unless some were doubled or overtaken on the way.
    """
    if None not in known[:sent]:
        return sum(map(bool, known[:sent]))
    seen = _seen(reflections)
    last = min((number for number in seen.first if number >= sent - 1), default=None)
    in_order = [seen.first[number] for number in sorted(seen.first)]
    if last is None or seen.copied or in_order != sorted(in_order):
        return None
    later = known[sent : last + 1]
    if None in later:
        return None
    arrivals = seen.first[last] + 1 - sum(map(bool, later))
    answered = sum(number < sent for number in seen.first)
    # A far end that counts neither as it should nor at all is not believed.
    return arrivals if answered <= arrivals <= sent else None


def _seen(reflections: Iterable[tuple[int, Reflection]]) -> _Seen:
    first: dict[int, int] = {}
    counts: set[int] = set()
    for number, reflection in reflections:
        first[number] = min(first.get(number, reflection.count), reflection.count)
        counts.add(reflection.count)
    return _Seen(first, sorted(counts))
