"""Reordering of a packet stream as RFC 4737 counts it, from sequence numbers in arrival order."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise, takewhile

from agent.measurements.delay_figures import Reordering
from agent.stats.sequences import reordering_extent


def reordering(
    arrivals: Sequence[int], at_ms: Sequence[float | None] | None = None
) -> Reordering | None:
    """Return how a stream was reordered; None where nothing arrived.

    `at_ms` is when each packet arrived, by position; without it late times are not known.
    """
    if not arrivals:
        return None
    late = late_positions(arrivals)
    extents = [e for i in late if (e := reordering_extent(arrivals, i)) is not None]
    times = [t for i in late if (t := late_time_ms(arrivals, at_ms, i)) is not None]
    return Reordering(
        arrived=len(arrivals),
        reordered=len(late),
        ratio=len(late) / len(arrivals),
        extent_max=max(extents, default=None),
        late_max_ms=max(times, default=None),
        n_reordering_max=max((n_reordering(arrivals, i) for i in late), default=None),
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


def late_time_ms(
    arrivals: Sequence[int], at_ms: Sequence[float | None] | None, position: int
) -> float | None:
    """Return how long after the earliest larger number a packet came (RFC 4737 §4.3)."""
    extent = reordering_extent(arrivals, position)
    if at_ms is None or extent is None:
        return None
    came, first = at_ms[position], at_ms[position - extent]
    return None if came is None or first is None else came - first


def n_reordering(arrivals: Sequence[int], position: int) -> int:
    """Return how many packets just before this one all carry larger numbers (RFC 4737 §5)."""
    before = reversed(arrivals[:position])
    return sum(1 for _ in takewhile(lambda number: number > arrivals[position], before))


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
