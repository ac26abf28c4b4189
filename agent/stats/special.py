"""The few special functions behind the intervals: incomplete beta, normal and Student quantiles."""

from __future__ import annotations

import math
from collections.abc import Callable
from statistics import NormalDist

_TINY = 1e-300
_PRECISION = 1e-15
_STEPS = 400


def normal_quantile(probability: float) -> float:
    """Return the standard normal quantile of a probability in (0, 1)."""
    return NormalDist().inv_cdf(probability)


def two_sided_z(confidence: float) -> float:
    """Return the z that encloses `confidence` of a normal distribution."""
    return normal_quantile(0.5 + confidence / 2)


def incomplete_beta(a: float, b: float, x: float) -> float:
    """Return the regularised incomplete beta function I_x(a, b); a, b > 0, 0 <= x <= 1.

    Continued fraction of DLMF §8.17.22 with the symmetry of §8.17.4.
    """
    if x <= 0:
        return 0.0
    if x >= 1:
        return 1.0
    if x > (a + 1) / (a + b + 2):
        return 1.0 - incomplete_beta(b, a, 1 - x)
    log_front = a * math.log(x) + b * math.log1p(-x) - math.log(a) - _log_beta(a, b)
    return math.exp(log_front) * _fraction(a, b, x)


def student_quantile(probability: float, degrees: float) -> float:
    """Return the quantile of Student's t with `degrees` of freedom (DLMF §8.17.6)."""
    if probability < 0.5:
        return -student_quantile(1 - probability, degrees)
    tail = 2 * (1 - probability)
    x = _invert(lambda x: incomplete_beta(degrees / 2, 0.5, x), tail)
    return math.sqrt(degrees * (1 - x) / x) if x > 0 else math.inf


def beta_quantile(probability: float, a: float, b: float) -> float:
    """Return the x at which the beta distribution of a and b reaches a probability."""
    return _invert(lambda x: incomplete_beta(a, b, x), probability)


def _log_beta(a: float, b: float) -> float:
    return math.lgamma(a) + math.lgamma(b) - math.lgamma(a + b)


def _fraction(a: float, b: float, x: float) -> float:
    """Evaluate the continued fraction by the modified Lentz method."""
    c, d = 1.0, _away_from_zero(1 - (a + b) * x / (a + 1))
    d = 1 / d
    value = d
    for m in range(1, _STEPS):
        for term in _terms(a, b, x, m):
            d = 1 / _away_from_zero(1 + term * d)
            c = _away_from_zero(1 + term / c)
            value *= c * d
        if abs(c * d - 1) < _PRECISION:
            break
    return value


def _terms(a: float, b: float, x: float, m: int) -> tuple[float, float]:
    even = m * (b - m) * x / ((a + 2 * m - 1) * (a + 2 * m))
    odd = -(a + m) * (a + b + m) * x / ((a + 2 * m) * (a + 2 * m + 1))
    return even, odd


def _away_from_zero(value: float) -> float:
    return value if abs(value) > _TINY else _TINY


def _invert(increasing: Callable[[float], float], target: float) -> float:
    """Return the x in [0, 1] where an increasing function meets its target, by bisection."""
    low, high = 0.0, 1.0
    for _ in range(200):
        middle = (low + high) / 2
        if middle in (low, high):
            break
        low, high = (middle, high) if increasing(middle) < target else (low, middle)
    return (low + high) / 2
