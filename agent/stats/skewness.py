"""Quantiles of a mean whose values lean to one side.

A line that is mostly free and at times crossed shows few dips just when its mean comes out high:
the mean and its spread go together, and a symmetric interval then misses on one side. Hall's
transformation takes that leaning out (Hall 1992, On the removal of skewness by transformation,
J. R. Statist. Soc. B 54, from memory).
"""

from __future__ import annotations

import math
from collections.abc import Sequence

_MOST = 0.35
"""Skewness of the mean up to which so few values tell it; beyond, the quantiles run away."""

_NONE = 1e-6
_LEAST_VALUES = 3


def skewness_of_mean(values: Sequence[float]) -> float:
    """Return the skewness that the mean of the values has, within 0.35 each way.

    That of the values (adjusted Fisher-Pearson coefficient) over the root of their number; zero
    for fewer than three values and for equal ones.
    """
    count = len(values)
    centre = math.fsum(values) / count
    off = [v - centre for v in values]
    square = math.fsum(d * d for d in off) / count
    if count < _LEAST_VALUES or square <= 0:
        return 0.0
    plain = math.fsum((d / math.sqrt(square)) ** 3 for d in off) / count
    adjusted = plain * math.sqrt(count * (count - 1)) / (count - 2)
    return max(-_MOST, min(_MOST, adjusted / math.sqrt(count)))


def leaning_quantile(quantile: float, skewness: float) -> float:
    """Return the quantile of (mean - truth) / standard error for a mean of that skewness.

    The inverse of g(T) = T + s T²/3 + s² T³/27 + s/6, where g(T) has the given symmetric quantile.
    """
    if abs(skewness) < _NONE:
        return quantile
    inner = 1 + skewness * (quantile - skewness / 6)
    return 3 / skewness * (math.cbrt(inner) - 1)
