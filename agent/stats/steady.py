"""The steady part of a transfer and the interval of its mean.

The steady part begins where the running mean first lies inside its later distribution: a ramp is
cut from below and a burst from above, while a line that is uneven throughout keeps its start. A
stall is left out as well, where what follows is far more even. Never more than half is cut.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

from agent.stats.quantiles import percentile
from agent.stats.special import student_quantile, two_sided_z

_GROUP_SLICES = 5
_BATCHES = 10
_LEAST_BATCHES = 4

_AS_EVEN = 3.0
"""How much larger the standard error may be for more of the transfer to be used."""

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


def steady_from(slices: Sequence[Slice], opening_s: float = 0.0) -> int:
    """Return the index of the first slice of the steady part, at most half-way.

    `opening_s` is how long the start-up of the transport lasts at least; up to a quarter of the
    slices is left out for it unseen.
    """
    size = min(_GROUP_SLICES, max(1, len(slices) // 8))
    opened = sum(s.begin_s < opening_s for s in slices)
    entry = max(_entry(slices, size), min(opened, len(slices) // 4))
    quiet = _quietest(slices, size)
    error = _error_from(slices, quiet)
    if error is None:
        return entry
    starts = range(entry, quiet)
    return next((i for i in starts if _as_even(slices, i, error)), max(entry, quiet))


def _entry(slices: Sequence[Slice], size: int) -> int:
    """Return where the running mean first lies inside its later distribution.

    A ramp comes from below, a burst from above; an uneven line is inside from the start.
    """
    running = [_rate(slices[i : i + size]) for i in range(len(slices) - size + 1)]
    later = running[len(running) // 2 :]
    low, high = percentile(later, 10), percentile(later, 90)
    if low is None or high is None:
        return 0
    dust = _LEAST_SPREAD * high
    inside = (i for i, r in enumerate(running) if low - dust <= r <= high + dust)
    return min(next(inside, 0), len(slices) // 2)


def _quietest(slices: Sequence[Slice], size: int) -> int:
    """Return the start of the tail whose mean has the smallest standard error.

    The marginal standard error rule (MSER; White 1997, from memory), as if groups were
    independent.
    """
    rates = [_rate(group) for group in _groups(slices, size)]
    errors = [_marginal_error(rates[start:]) for start in range(len(rates) // 2 + 1)]
    return size * errors.index(min(errors)) if rates else 0


def _as_even(slices: Sequence[Slice], start: int, error: float) -> bool:
    mine = _error_from(slices, start)
    return mine is not None and mine <= _AS_EVEN * error


def _error_from(slices: Sequence[Slice], start: int) -> float | None:
    batches = _batches(slices[start:])
    return _standard_error(batches) if len(batches) >= _LEAST_BATCHES else None


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
    t = student_quantile(0.5 + confidence / 2, len(batches) - 1)
    sampling = t * _standard_error(batches)
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


def _standard_error(batches: Sequence[float]) -> float:
    """Return the standard error of the mean, widened where neighbours resemble each other."""
    count = len(batches)
    centre = math.fsum(batches) / count
    off = [b - centre for b in batches]
    squares = math.fsum(d * d for d in off)
    if squares <= 0:
        return 0.0
    neighbours = math.fsum(a * b for a, b in pairwise(off)) / squares
    widen = 1 + 2 * max(0.0, neighbours) * (1 - 1 / count)
    return math.sqrt(squares / (count - 1) / count * widen)


def _unevenness(slices: Sequence[Slice], rate: float) -> float:
    """Return the standard deviation of a slice's octets about its share of the mean rate."""
    off = [s.octets - rate * s.span_s for s in slices]
    return math.sqrt(math.fsum(d * d for d in off) / len(off))
