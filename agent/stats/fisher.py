"""Whether one of two small proportions is the greater: Fisher's exact test."""

from __future__ import annotations

from math import comb


def chance_of_more(count: int, of: int, other_count: int, other_of: int) -> float:
    """Return how likely at least `count` of `of` are where both proportions are the same.

    One-sided, given the total of both (Fisher 1935). One where nothing was tried on either side.
    """
    whole, hits = of + other_of, count + other_count
    if of <= 0 or other_of <= 0:
        return 1.0
    most = min(of, hits)
    ways = sum(comb(of, k) * comb(other_of, hits - k) for k in range(count, most + 1))
    return ways / comb(whole, hits)
