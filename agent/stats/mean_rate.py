"""The mean rate of a steady part and its interval, where neighbouring slices resemble each other.

The interval is for the line's own mean, which a sold rate is compared with and which the part is a
sample of. What the line carried in the part itself is known far better, to what the edges can hide,
so that the interval holds that as well, nearly always.

Batch means: the part is divided into batches long enough that their rates hardly resemble their
neighbours', and Student's t of their spread gives the interval (Law, Simulation Modeling and
Analysis, chapter 9, from memory). How many batches there are follows from the transfer itself.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from itertools import pairwise
from typing import NamedTuple

from agent.stats.skewness import leaning_quantile, skewness_of_mean
from agent.stats.slices import Slice, group_rates, rate_of
from agent.stats.special import student_quantile, two_sided_z

_COUNTS = (20, 14, 10, 7)
"""Numbers of batches, tried from the finest."""

_LEAST_BATCHES = 4

_ALIKE = 0.1
"""Likeness of neighbouring batches up to which they count as long enough."""

_MOST_ALIKE = 0.6

_LEANING_BATCHES = 10
"""Batches that tell to which side the mean leans: finer ones resemble each other too much."""

_LEAST_KEPT = 0.2
"""Part of the batches' variance that stays, however lumpy the slices are."""


@dataclass(frozen=True, slots=True)
class MeanRate:
    """A mean over time with its interval, octets per second; `batches` None without one."""

    rate: float
    low: float | None
    high: float | None
    batches: int | None


def mean_rate(slices: Sequence[Slice], edge_octets: float, confidence: float) -> MeanRate | None:
    """Return the mean over time of a steady part by batch means; None for no slices.

    Each side joins two independent parts: the sampling of the batches, wider on the side to which
    they lean, and what the two edges can hide. Octets are counted when they are read, so each end
    is uncertain by how lumpily they come and by `edge_octets`, the largest piece that arrives at
    once.
    """
    span = math.fsum(s.span_s for s in slices)
    if span <= 0:
        return None
    rate = rate_of(slices)
    if len(slices) < _LEAST_BATCHES:
        return MeanRate(rate, None, None, None)
    lumps = _lumps(slices, rate)
    error, batches = _standard_error(slices, lumps.seen)
    quantile = _quantile(confidence, batches - 1)
    leaning = _leaning(slices, lumps.seen)
    edge = (two_sided_z(confidence) * math.sqrt(lumps.most) + edge_octets) / span
    below = math.hypot(leaning_quantile(quantile, leaning) * error, edge)
    above = math.hypot(leaning_quantile(-quantile, leaning) * error, edge)
    return MeanRate(rate, max(0.0, rate - below), rate + above, batches)


def _standard_error(slices: Sequence[Slice], lumps: float) -> tuple[float, int]:
    """Return the standard error of the mean and the number of batches that it rests on.

    `lumps` is the variance that lumps give each batch by its edges: all inner edges cancel out in
    the whole. What likeness is left between neighbours widens the error as in a first-order
    autoregression.
    """
    for count in _COUNTS:
        rates = group_rates(slices, count)
        alike = _likeness(rates)
        if alike <= _ALIKE:
            break
    kept = min(max(0.0, alike), _MOST_ALIKE)
    error = _error(slices, rates, lumps)
    return error * math.sqrt((1 + kept) / (1 - kept)), len(rates)


def _leaning(slices: Sequence[Slice], lumps: float) -> float:
    """Return the skewness of the mean, as far as the spread of batches is not that of lumps."""
    rates = group_rates(slices, _LEANING_BATCHES)
    spread = _variance(rates)
    if spread <= 0:
        return 0.0
    batch_s = math.fsum(s.span_s for s in slices) / len(rates)
    genuine = max(0.0, 1 - lumps / batch_s**2 / spread)
    return skewness_of_mean(rates) * genuine * math.sqrt(genuine)


def error_of_mean(slices: Sequence[Slice], count: int) -> float:
    """Return the standard error of the mean of a few slices, from `count` groups of them.

    Infinite where there are fewer than two groups.
    """
    rates = group_rates(slices, count)
    if len(rates) < 2:
        return math.inf
    return _error(slices, rates, _lumps(slices, rate_of(slices)).seen)


def _error(slices: Sequence[Slice], rates: Sequence[float], lumps: float) -> float:
    batch_s = math.fsum(s.span_s for s in slices) / len(rates)
    spread = _variance(rates)
    return math.sqrt(max(spread - lumps / batch_s**2, spread * _LEAST_KEPT) / len(rates))


def _variance(rates: Sequence[float]) -> float:
    centre = math.fsum(rates) / len(rates)
    return math.fsum((r - centre) ** 2 for r in rates) / (len(rates) - 1)


def _likeness(rates: Sequence[float]) -> float:
    """Return the correlation of neighbours, freed of the bias that a short series has.

    Of n independent values the estimate is -1/n on average (Kendall 1954, from memory).
    """
    centre = math.fsum(rates) / len(rates)
    off = [r - centre for r in rates]
    squares = math.fsum(d * d for d in off)
    if squares <= 0:
        return 0.0
    return math.fsum(a * b for a, b in pairwise(off)) / squares + 1 / len(rates)


class _Lumps(NamedTuple):
    """Variance of what two edges together displace, octets squared: as seen, and at most."""

    seen: float
    most: float


def _lumps(slices: Sequence[Slice], rate: float) -> _Lumps:
    """Return what lumps displace at the edges.

    A lump that falls on the other side of a slice's end is missing here and too much there, so
    lumps make neighbours unlike: twice their negative covariance is the variance that two edges
    give. It is known only as well as so many slices tell.
    """
    off = [s.octets - rate * s.span_s for s in slices]
    spread = math.fsum(d * d for d in off) / len(off)
    unlike = max(0.0, -2 * math.fsum(a * b for a, b in pairwise(off)) / len(off))
    return _Lumps(min(spread, unlike), min(spread, unlike + 2 * spread / math.sqrt(len(off))))


@lru_cache(maxsize=256)
def _quantile(confidence: float, degrees: int) -> float:
    return student_quantile(0.5 + confidence / 2, degrees)
