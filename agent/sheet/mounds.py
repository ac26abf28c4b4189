"""Mounds: how values lie along an axis, as heights between 0 and 1 for any face to draw."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

STEPS = (1.0, 2.0, 5.0)
MOST_TICKS = 7
LEAST_SPAN = 10.0
SLACK = 1.15
LEAST_HEIGHT = 0.08
"""One value among thousands still shows, or a page would hide what a customer feels."""


@dataclass(frozen=True, slots=True)
class LogAxis:
    """A logarithmic axis from `low` to `high`, both above zero: one picture for 0.2 and 400 ms."""

    low: float
    high: float

    def at(self, value: float) -> float:
        """Return the place of a value between 0 and 1; what lies outside stands at the end."""
        if value <= self.low:
            return 0.0
        span = math.log(self.high / self.low)
        return min(1.0, math.log(value / self.low) / span)

    def ticks(self) -> tuple[float, ...]:
        """Return round values along the axis, as many as can be read."""
        fine = tuple(self._round(STEPS))
        if len(fine) <= MOST_TICKS:
            return fine
        decades = tuple(self._round(STEPS[:1]))
        return decades[:: math.ceil(len(decades) / MOST_TICKS)]

    def _round(self, steps: Sequence[float]) -> Iterator[float]:
        first, last = math.floor(math.log10(self.low)), math.ceil(math.log10(self.high))
        for power in range(first, last + 1):
            for step in steps:
                if self.low <= step * 10.0**power <= self.high:
                    yield step * 10.0**power


def log_axis(values: Sequence[float]) -> LogAxis | None:
    """Return an axis that holds every value above zero, None where there is none."""
    above = [value for value in values if value > 0]
    if not above:
        return None
    low, high = min(above) / SLACK, max(above) * SLACK
    if high / low < LEAST_SPAN:
        middle = math.sqrt(low * high)
        low, high = middle / math.sqrt(LEAST_SPAN), middle * math.sqrt(LEAST_SPAN)
    return LogAxis(low, high)


def mound(values: Sequence[float], axis: LogAxis, bins: int) -> tuple[float, ...]:
    """Return the height of each bin along the axis, the fullest 1; nothing for no values."""
    counts = [0] * bins
    for value in values:
        counts[min(bins - 1, int(axis.at(value) * bins))] += 1
    most = max(counts, default=0)
    return tuple(_height(count / most) for count in counts) if most else ()


def _height(share: float) -> float:
    return 0.0 if share <= 0 else max(LEAST_HEIGHT, share)


def rates_over_time(
    ends_s: Sequence[float], amounts: Sequence[float], span_s: float, bins: int
) -> tuple[float, ...]:
    """Return the mean rate in each of `bins` equal parts of a time, amounts per second.

    `amounts` arrived evenly in the slices that end at `ends_s`, the first of which began at 0.
    """
    totals, width = [0.0] * bins, span_s / bins
    began = 0.0
    for end, amount in zip(ends_s, amounts, strict=True):
        if end > began:
            _share_out(totals, width, (began, end), amount)
        began = max(began, end)
    return tuple(total / width for total in totals)


def _share_out(
    totals: list[float], width: float, slice_s: tuple[float, float], amount: float
) -> None:
    began, end = slice_s
    for at in range(int(began / width), min(len(totals) - 1, int(end / width)) + 1):
        overlap = min(end, (at + 1) * width) - max(began, at * width)
        totals[at] += amount * max(0.0, overlap) / (end - began)
