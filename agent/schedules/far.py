"""What the far end of a delay series saw: which probes reached it, and in which order."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from itertools import islice, pairwise

_COPIES = 8


@dataclass(frozen=True, slots=True, kw_only=True)
class FarReport:
    """The reflector's own log: packets `received`, and sender sequence numbers as they came.

    `order` holds runs of consecutive numbers: (first, count).
    """

    received: int
    order: tuple[tuple[int, int], ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Reflection:
    """What the far end stamped on one answer: its own count, and when, in unix nanoseconds."""

    count: int
    received_ns: int | None = None
    sent_ns: int | None = None


def far_arrivals(report: FarReport, sent: int) -> tuple[int, ...]:
    """Return the numbers below `sent` in the order of their first arrival at the far end.

    The report may be hostile: copies beyond a few for each number sent are not looked at.
    """
    numbers = (
        number
        for first, count in report.order
        for number in range(max(0, first), min(sent, first + count))
    )
    return tuple(dict.fromkeys(islice(numbers, _COPIES * sent)))


def received_by_report(
    report: FarReport, answered: Sequence[bool]
) -> tuple[tuple[bool | None, ...], tuple[int, ...]]:
    """Return, per probe, whether the far end received it, and its order of arrival there.

    A number the log lacks was lost on the way there only if the log is whole: it then lists as
    many packets as were received. What was answered was received, whatever the log says.
    """
    arrivals = far_arrivals(report, len(answered))
    listed = sum(max(0, count) for _, count in report.order)
    missing = False if listed == report.received else None
    reached = set(arrivals)
    known = tuple(True if ok or n in reached else missing for n, ok in enumerate(answered))
    return known, arrivals


def received_by_counts(
    sent: int, reflections: Iterable[tuple[int, Reflection]]
) -> tuple[bool | None, ...]:
    """Return, per probe, what a stateful reflector's counts tell (RFC 8762 §4.3).

    `reflections` pairs each answer, copies included, with its sequence number. Between two
    answered probes the count moves on by the packets that reached the far end; where that is
    none or all of the unanswered ones, their fate is known. A reflector whose counts equal the
    sender's numbers throughout may be stateless, and then tells nothing of the others.
    """
    pairs = list(reflections)
    known: list[bool | None] = [None] * sent
    first: dict[int, int] = {}
    for number, reflection in pairs:
        known[number] = True
        first.setdefault(number, reflection.count)
    if all(number == reflection.count for number, reflection in pairs):
        return tuple(known)
    counts = sorted({reflection.count for _, reflection in pairs})
    start = (-1, -1)
    for (a, count_a), (b, count_b) in pairwise([start, *sorted(first.items())]):
        _settle_gap(known, (a, b), _unseen(counts, count_a, count_b))
    return tuple(known)


def _unseen(counts: list[int], low: int, high: int) -> int | None:
    if high <= low:
        return None
    return high - low - 1 - sum(low < count < high for count in counts)


def _settle_gap(known: list[bool | None], gap: tuple[int, int], reached: int | None) -> None:
    inside = range(gap[0] + 1, gap[1])
    if reached == 0 or reached == len(inside):
        known[inside.start : inside.stop] = [reached != 0] * len(inside)
