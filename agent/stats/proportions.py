"""Intervals for a proportion: how much loss so many losses of so many probes can mean."""

from __future__ import annotations

import math

from agent.stats.special import beta_quantile, two_sided_z

Interval = tuple[float, float]


def ratio(count: int, of: int) -> float | None:
    """Return count / of; None where nothing was tried."""
    return count / of if of > 0 else None


def wilson(count: int, of: int, confidence: float = 0.95) -> Interval | None:
    """Return the score interval of a proportion (Wilson 1927); None where nothing was tried."""
    if of <= 0:
        return None
    low, high = score_bounds(count / of, of, two_sided_z(confidence))
    return (0.0 if count == 0 else low), (1.0 if count == of else high)


def score_bounds(share: float, of: float, z: float) -> Interval:
    """Return Wilson's bounds of a share of `of` independent trials, which need not be whole."""
    widen = 1 + z * z / of
    centre = share + z * z / (2 * of)
    half = z * math.sqrt(share * (1 - share) / of + z * z / (4 * of * of))
    return max(0.0, (centre - half) / widen), min(1.0, (centre + half) / widen)


def clopper_pearson(count: int, of: int, confidence: float = 0.95) -> Interval | None:
    """Return the exact interval of a proportion (Clopper and Pearson 1934)."""
    if of <= 0:
        return None
    tail = (1 - confidence) / 2
    low = 0.0 if count == 0 else beta_quantile(tail, count, of - count + 1)
    high = 1.0 if count == of else beta_quantile(1 - tail, count + 1, of - count)
    return low, high


def attempts_to_prove(limit: float, confidence: float = 0.95) -> int:
    """Return how many attempts without a miss bring the Wilson upper bound to `limit`.

    The bound of 0 of n is z²/(n + z²), so n = z²(1 - limit)/limit, rounded up.
    """
    z = two_sided_z(confidence)
    return math.ceil(z * z * (1 - limit) / limit)
