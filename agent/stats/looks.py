"""When a transfer may end by its interval, and what that costs in confidence.

A rule that looks again and again stops when chance makes the interval narrow, and then holds the
truth too seldom. So it looks only at a few planned times, and the permitted share of misses is
spent over them (alpha spending, Lan and DeMets 1983; with the third power of the time that has
passed, Kim and DeMets 1987; both from memory): little at the first look, what is left at the end.
Whatever the rule does, all looks together miss no more often than one plain interval (Bonferroni).
"""

from __future__ import annotations

from itertools import pairwise

LOOK_SHARES = (0.34, 0.41, 0.49, 0.58, 0.70)
"""Planned looks, in parts of the longest duration; the end of it is the last look."""

_POWER = 3
_TIMELY_S = 1e-3


def look_times(longest_s: float) -> tuple[float, ...]:
    """Return the planned looks before the end, seconds from the first byte."""
    return tuple(share * longest_s for share in LOOK_SHARES)


def looks_passed(elapsed_s: float, longest_s: float) -> int:
    """Return how many planned looks lie at or before a time."""
    return sum(look_s <= elapsed_s + _TIMELY_S for look_s in look_times(longest_s))


def look_confidence(elapsed_s: float, longest_s: float, confidence: float, *, early: bool) -> float:
    """Return the confidence of the interval at a time; all looks together keep `confidence`.

    `early` for a planned look before the end, else the end, wherever it comes.
    """
    miss, passed = 1 - confidence, looks_passed(elapsed_s, longest_s)
    spent = [0.0, *(_spent(share, miss) for share in LOOK_SHARES)]
    if not early or not passed:
        return 1 - (miss - spent[passed])
    before, now = list(pairwise(spent))[passed - 1]
    return 1 - (now - before)


def _spent(share: float, miss: float) -> float:
    """Return the permitted misses spent at a share of the time."""
    return miss * share**_POWER
