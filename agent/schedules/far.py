"""What the far end of a delay series saw: which probes reached it, and in which order."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import islice

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
    return tuple(dict.fromkeys(_listed(report, sent)))


def far_copies(report: FarReport, sent: int) -> tuple[int, ...] | None:
    """Return how often each number below `sent` arrived; None where the log is cut short."""
    if not _whole(report):
        return None
    arrived = Counter(_listed(report, sent))
    return tuple(arrived[number] for number in range(sent))


def received_by_report(
    report: FarReport, answered: Sequence[bool]
) -> tuple[tuple[bool | None, ...], tuple[int, ...]]:
    """Return, per probe, whether the far end received it, and its order of arrival there.

    A number the log lacks was lost on the way there only if the log is whole: it then lists as
    many packets as were received. What was answered was received, whatever the log says.
    """
    arrivals = far_arrivals(report, len(answered))
    missing = False if _whole(report) else None
    reached = set(arrivals)
    known = tuple(True if ok or n in reached else missing for n, ok in enumerate(answered))
    return known, arrivals


def _listed(report: FarReport, sent: int) -> Iterator[int]:
    numbers = (
        number
        for first, count in report.order
        for number in range(max(0, first), min(sent, first + count))
    )
    return islice(numbers, _COPIES * sent)


def _whole(report: FarReport) -> bool:
    return sum(max(0, count) for _, count in report.order) == report.received
