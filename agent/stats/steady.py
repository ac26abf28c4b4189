"""The steady part of a transfer and the interval of its mean.

Slices are pooled into groups; the start that disturbs the mean is cut by the marginal standard
error rule (MSER; White 1997, from memory): keep the tail whose mean has the smallest standard
error. It cuts a ramp from below and a burst from above alike, and never more than half.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

from agent.stats.special import student_quantile, two_sided_z

_GROUP_SLICES = 5
_BATCHES = 10
_LEAST_BATCHES = 4

_GOOD_ENOUGH = 1.1
"""The earliest cut this close to the best one is taken: chasing the last tenth picks noise."""

_LEAST_SPREAD = 1e-5
"""Relative spread below which a line counts as constant, so that dust in the sums cuts nothing."""


@dataclass(frozen=True, slots=True)
class Slice:
    """Octets that arrived between two instants, seconds."""

    begin_s: float
    end_s: float
    octets: int

    @property
    def span_s(self) -> float:
        """Return the length in seconds."""
        return self.end_s - self.begin_s


@dataclass(frozen=True, slots=True)
class MeanRate:
    """A mean over time with its interval, octets per second; `batches` None without one."""

    rate: float
    low: float | None
    high: float | None
    batches: int | None


def slices_of(ends_s: Sequence[float], octets: Sequence[int]) -> tuple[Slice, ...]:
    """Return the slices of positive length; the first begins at zero."""
    begins = (0.0, *ends_s[:-1])
    joined = zip(begins, ends_s, octets, strict=False)
    return tuple(Slice(b, e, n) for b, e, n in joined if e > b)


def steady_from(slices: Sequence[Slice]) -> int:
    """Return the index of the first slice of the steady part."""
    if len(slices) < 2:
        return 0
    size = min(_GROUP_SLICES, max(1, len(slices) // 8))
    rates = [_rate(group) for group in _groups(slices, size)]
    errors = [_marginal_error(rates[start:]) for start in range(len(rates) // 2 + 1)]
    least = min(errors)
    cut = next(i for i, error in enumerate(errors) if error <= least * _GOOD_ENOUGH)
    return cut * size


def mean_rate(slices: Sequence[Slice], edge_octets: float, confidence: float) -> MeanRate | None:
    """Return the mean over time of a steady part by batch means; None for no slices.

    The half-width joins two independent parts: Student's t on the batch means, widened where
    neighbouring batches resemble each other, and what the two edges can hide: octets are counted
    when they are read, so each end is uncertain by a slice's own unevenness and by `edge_octets`,
    the largest piece that arrives at once.
    """
    span = math.fsum(s.span_s for s in slices)
    if span <= 0:
        return None
    rate = sum(s.octets for s in slices) / span
    batches = _batches(slices)
    if len(batches) < _LEAST_BATCHES:
        return MeanRate(rate, None, None, None)
    sampling = _sampling_half(batches, confidence)
    edge = two_sided_z(confidence) * _unevenness(slices, rate) / span + edge_octets / span
    half = math.hypot(sampling, edge)
    return MeanRate(rate, max(0.0, rate - half), rate + half, len(batches))


def _rate(slices: Sequence[Slice]) -> float:
    return sum(s.octets for s in slices) / math.fsum(s.span_s for s in slices)


def _groups(slices: Sequence[Slice], size: int) -> list[Sequence[Slice]]:
    """Return whole groups of slices; a short rest joins the last group."""
    count = max(1, len(slices) // size)
    bounds = [i * size for i in range(count)] + [len(slices)]
    return [slices[a:b] for a, b in pairwise(bounds) if b > a]


def _batches(slices: Sequence[Slice]) -> list[float]:
    size = max(1, len(slices) // _BATCHES)
    return [_rate(group) for group in _groups(slices, size)]


def _marginal_error(rates: Sequence[float]) -> float:
    """Return the squared standard error of a mean, as if its parts were independent."""
    if len(rates) < 2:
        return math.inf
    centre = math.fsum(rates) / len(rates)
    spread = math.fsum((r - centre) ** 2 for r in rates) / len(rates)
    return max(spread, (_LEAST_SPREAD * centre) ** 2) / len(rates)


def _sampling_half(batches: Sequence[float], confidence: float) -> float:
    count = len(batches)
    centre = math.fsum(batches) / count
    off = [b - centre for b in batches]
    squares = math.fsum(d * d for d in off)
    if squares <= 0:
        return 0.0
    neighbours = math.fsum(a * b for a, b in pairwise(off)) / squares
    widen = 1 + 2 * max(0.0, neighbours) * (1 - 1 / count)
    t = student_quantile(0.5 + confidence / 2, count - 1)
    return t * math.sqrt(squares / (count - 1) / count * widen)


def _unevenness(slices: Sequence[Slice], rate: float) -> float:
    """Return the standard deviation of a slice's octets about its share of the mean rate."""
    off = [s.octets - rate * s.span_s for s in slices]
    return math.sqrt(math.fsum(d * d for d in off) / len(off))
