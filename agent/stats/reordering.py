"""Reordering of a packet stream as RFC 4737 counts it, from sequence numbers in arrival order."""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Sequence
from itertools import pairwise

from agent.measurements.delay_figures import Reordering


def reordering(
    arrivals: Sequence[int], at_ms: Sequence[float | None] | None = None
) -> Reordering | None:
    """Return how a stream was reordered; None where nothing arrived.

    `at_ms` is when each packet arrived, by position; without it late times are not known.
    """
    if not arrivals:
        return None
    late = late_positions(arrivals)
    back = extents(arrivals)
    times = [t for t in late_times_ms(arrivals, at_ms) if t is not None] if at_ms else []
    return Reordering(
        arrived=len(arrivals),
        reordered=len(late),
        ratio=len(late) / len(arrivals),
        extent_max=max(back, default=None),
        late_max_ms=max(times, default=None),
        n_reordering_max=max(n_reorderings(arrivals), default=None),
        gap_min=min(reordering_gaps(arrivals), default=None),
        free_run_max=max(reordering_free_runs(arrivals)) if late else None,
    )


def late_positions(arrivals: Sequence[int]) -> tuple[int, ...]:
    """Return the positions of the packets that came after a larger number (RFC 4737 §3)."""
    expected, late = None, []
    for position, number in enumerate(arrivals):
        if expected is not None and number < expected:
            late.append(position)
        else:
            expected = number + 1
    return tuple(late)


def extents(arrivals: Sequence[int]) -> tuple[int, ...]:
    """Return how far behind the earliest larger number each reordered one came (RFC 4737 §4.2)."""
    tops: list[int] = []
    came: list[int] = []
    found = []
    for position, number in enumerate(arrivals):
        if tops and number < tops[-1]:
            found.append(position - came[bisect_right(tops, number)])
        elif not tops or number > tops[-1]:
            tops.append(number)
            came.append(position)
    return tuple(found)


def late_times_ms(
    arrivals: Sequence[int], at_ms: Sequence[float | None]
) -> tuple[float | None, ...]:
    """Return how long after the earliest larger number each reordered one came (RFC 4737 §4.3)."""
    ends = zip(late_positions(arrivals), extents(arrivals), strict=True)
    pairs = [(at_ms[position - extent], at_ms[position]) for position, extent in ends]
    return tuple(None if a is None or b is None else b - a for a, b in pairs)


def n_reorderings(arrivals: Sequence[int]) -> tuple[int, ...]:
    """Return how many packets just before each reordered one carry larger numbers (RFC 4737 §5)."""
    smaller: list[int] = []
    before = []
    for position, number in enumerate(arrivals):
        while smaller and arrivals[smaller[-1]] > number:
            smaller.pop()
        before.append(position - (smaller[-1] if smaller else -1) - 1)
        smaller.append(position)
    return tuple(before[position] for position in late_positions(arrivals))


def reordering_gaps(arrivals: Sequence[int]) -> tuple[int, ...]:
    """Return the distances between discontinuities of order, in packets (RFC 4737 §4.5).

    A discontinuity is a reordered packet whose predecessor was in order.
    """
    late = set(late_positions(arrivals))
    starts = sorted(i for i in late if i - 1 not in late)
    return tuple(b - a for a, b in pairwise(starts))


def reordering_free_runs(arrivals: Sequence[int]) -> tuple[int, ...]:
    """Return how many packets came in order before each reordered one (RFC 4737 §4.6)."""
    late = late_positions(arrivals)
    return tuple(b - a - 1 for a, b in pairwise((-1, *late)))
