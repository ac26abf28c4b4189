"""Slices of a transfer: octets between two instants, and rates over several of them."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise


@dataclass(frozen=True, slots=True)
class Slice:
    """Octets that arrived between two instants, seconds."""

    begin_s: float
    end_s: float
    octets: float

    @property
    def span_s(self) -> float:
        """Return the length in seconds."""
        return self.end_s - self.begin_s


def slices_of(ends_s: Sequence[float], octets: Sequence[int]) -> tuple[Slice, ...]:
    """Return the slices of positive length; the first begins at zero."""
    begins = (0.0, *ends_s[:-1])
    joined = zip(begins, ends_s, octets, strict=False)
    return tuple(Slice(b, e, n) for b, e, n in joined if e > b)


def rate_of(slices: Sequence[Slice]) -> float:
    """Return octets per second over neighbouring slices; at least one."""
    return sum(s.octets for s in slices) / math.fsum(s.span_s for s in slices)


def running_rates(slices: Sequence[Slice], size: int) -> list[float]:
    """Return the rate over every run of `size` neighbouring slices."""
    octets, spans = [0.0], [0.0]
    for piece in slices:
        octets.append(octets[-1] + piece.octets)
        spans.append(spans[-1] + piece.span_s)
    runs = range(len(slices) - size + 1)
    return [(octets[i + size] - octets[i]) / (spans[i + size] - spans[i]) for i in runs]


def group_rates(slices: Sequence[Slice], count: int) -> list[float]:
    """Return the rates of `count` groups as equal as whole slices allow; fewer for few slices."""
    count = max(1, min(count, len(slices)))
    bounds = [round(i * len(slices) / count) for i in range(count + 1)]
    return [rate_of(slices[a:b]) for a, b in pairwise(bounds)]


def last_of(slices: Sequence[Slice], span_s: float) -> Sequence[Slice]:
    """Return the fewest last slices that last `span_s` together, or all."""
    lasted = 0.0
    for i in range(len(slices) - 1, -1, -1):
        lasted += slices[i].span_s
        if lasted >= span_s * (1 - 1e-9):
            return slices[i:]
    return slices
