"""The interval of a quantile of values that resemble those just before them.

Order statistics enclose a quantile of independent values. The delays of probes a hundredth of a
second apart are none: a queue that stands holds up many of them, and so many say less than their
number.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence

from agent.stats.proportions import Interval
from agent.stats.quantiles import order_ranks, percentile

_CHANCE = 2.0
"""Independent values have a correlation of lag 1 under 2/√n in 98 of 100 series (Bartlett 1946)."""

_LONGEST = 0.25
"""Correlations over more than this share of a series rest on too few pairs."""


def tied_interval(
    values: Sequence[float], share: float, confidence: float = 0.95
) -> Interval | None:
    """Return the values that enclose a quantile of a series in the order it was taken.

    The ranks of independent values (exact binomial), moved away from the quantile by the square
    root of how much likeness of neighbours inflates the variance of the share below it; where that
    leads past the last value, the last one stands, which says too little rather than nothing. None
    where too few values would do even if independent.
    """
    ranks = order_ranks(len(values), share, confidence)
    middle = percentile(values, 100 * share)
    if ranks is None or middle is None:
        return None
    wider = math.sqrt(inflation(_above(values, middle)))
    centre, ordered = share * len(values), sorted(values)
    low = max(1, math.floor(centre - (centre - ranks[0]) * wider))
    high = min(len(values), math.ceil(centre + (ranks[1] - centre) * wider))
    return ordered[low - 1], ordered[high - 1]


def _above(values: Sequence[float], middle: float) -> list[bool]:
    """Return which values lie above the quantile; a loss says as little anew as its neighbour.

    Taken as a value of its own it would make neighbours look less alike, and losses so prove more.
    """
    found: list[bool] = []
    for value in values:
        lost = math.isinf(value) and found
        found.append(found[-1] if lost else value > middle)
    return found


def inflation(above: Sequence[bool]) -> float:
    """Return by how much the variance of a share exceeds that of independent trials, at least 1.

    1 and twice the sum of the autocorrelations, over the initial sequence of pairs of them that are
    positive (Geyer 1992, from memory); 1 where neighbours are no more alike than chance makes them.
    """
    count, share = len(above), (sum(above) / len(above) if above else 0.0)
    if not 0.0 < share < 1.0:
        return 1.0
    tie = _ties(above, share)
    total = tie(1)
    if total <= _CHANCE / math.sqrt(count):
        return 1.0
    for lag in range(2, int(_LONGEST * count), 2):
        pair = tie(lag) + tie(lag + 1)
        if pair <= 0:
            break
        total += pair
    return max(1.0, 1 + 2 * total)


def _ties(above: Sequence[bool], share: float) -> Callable[[int], float]:
    """Return the autocorrelation by lag; the series as the bits of one number makes it quick."""
    count = len(above)
    bits = int("".join("1" if value else "0" for value in above), 2)
    spread = share * (1 - share) * count

    def tie(lag: int) -> float:
        head, tail = bits >> lag, bits & ((1 << (count - lag)) - 1)
        both = (head & tail).bit_count()
        single = head.bit_count() + tail.bit_count()
        return (both - share * single + share * share * (count - lag)) / spread

    return tie
