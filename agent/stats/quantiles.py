"""Order statistics as IPPM defines them; a lost packet is a delay without end."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence

Interval = tuple[float, float]


def edf(values: Sequence[float], x: float) -> float | None:
    """Return the share of values at or below x (RFC 2330 §11.3); None for no values."""
    return sum(v <= x for v in values) / len(values) if values else None


def percentile(values: Sequence[float], percent: float) -> float | None:
    """Return the smallest value x with F(x) >= percent/100: nearest rank (RFC 2330 §11.3).

    Lost packets stand in `values` as infinity (RFC 2681 §4.1); the answer may then be infinite.
    None for no values.
    """
    if not values:
        return None
    rank = _rank(percent / 100, len(values))
    return sorted(values)[rank - 1] if rank > 0 else -math.inf


def median(values: Sequence[float]) -> float | None:
    """Return the middle value, or the mean of the middle two (RFC 2681 §4.2)."""
    if not values:
        return None
    ordered = sorted(values)
    upper = len(ordered) // 2
    lower = upper if len(ordered) % 2 else upper - 1
    return (ordered[lower] + ordered[upper]) / 2


def median_of_known(values: Iterable[float | None]) -> float | None:
    """Return the median of those that were measured; None where none was."""
    return median([value for value in values if value is not None])


def finite(value: float | None) -> float | None:
    """Return the value where it is a number that a page can show, else None."""
    return value if value is not None and math.isfinite(value) else None


def mean(values: Sequence[float]) -> float | None:
    """Return the arithmetic mean; None for no values."""
    return math.fsum(values) / len(values) if values else None


def smallest(values: Iterable[float]) -> float | None:
    """Return the minimum; None for no values."""
    return min(values, default=None)


def largest(values: Iterable[float]) -> float | None:
    """Return the maximum; None for no values."""
    return max(values, default=None)


def count_for_percentile(share: float, confidence: float = 0.95) -> int:
    """Return how many values make the maximum bound a percentile at `confidence`.

    The largest of n exceeds the percentile with probability 1 - share^n: 59 for the 95th, 299
    for the 99th.
    """
    return math.ceil(math.log(1 - confidence) / math.log(share))


def order_ranks(count: int, share: float, confidence: float = 0.95) -> tuple[int, int] | None:
    """Return the ranks (from 1) of the values that enclose a quantile; None for too few values.

    Exact binomial: each tail outside the ranks keeps at most half of 1 - confidence.
    """
    tail = (1 - confidence) / 2
    below = _cumulative(count, share)
    low = sum(1 for p in below if p <= tail)
    high = next((k for k, p in enumerate(below) if p >= 1 - tail), count) + 1
    return (low, high) if low >= 1 and high <= count else None


def quantile_interval(
    values: Sequence[float], share: float, confidence: float = 0.95
) -> Interval | None:
    """Return the values at the ranks that enclose a quantile; None for too few values."""
    ranks = order_ranks(len(values), share, confidence)
    if ranks is None:
        return None
    ordered = sorted(values)
    return ordered[ranks[0] - 1], ordered[ranks[1] - 1]


def _rank(share: float, count: int) -> int:
    """Return the smallest rank k with k/count >= share, free of floating dust."""
    return math.ceil(share * count - 1e-9)


def _cumulative(count: int, share: float) -> list[float]:
    """Return P(Bin(count, share) <= k) for k = 0..count."""
    log_share, log_rest = math.log(share), math.log1p(-share)
    top = math.lgamma(count + 1)
    total, sums = 0.0, []
    for k in range(count + 1):
        ways = top - math.lgamma(k + 1) - math.lgamma(count - k + 1)
        total += math.exp(ways + k * log_share + (count - k) * log_rest)
        sums.append(total)
    return sums
