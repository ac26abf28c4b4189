"""What became of a packet stream as a sequence: bursts, reordering, duplication, variation."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import groupby, pairwise


def burst_lengths(lost: Sequence[bool]) -> tuple[int, ...]:
    """Return the length of each run of consecutive losses, in sending order."""
    return tuple(sum(1 for _ in run) for missing, run in groupby(lost) if missing)


def gap_lengths(lost: Sequence[bool]) -> tuple[int, ...]:
    """Return the length of each run of answers between two losses, in sending order."""
    runs = [(missing, sum(1 for _ in run)) for missing, run in groupby(lost)]
    inner = runs[1:-1]
    return tuple(length for missing, length in inner if not missing)


def reordered(arrivals: Sequence[int]) -> tuple[int, ...]:
    """Return the sequence numbers that arrived after a larger one (RFC 4737 §3)."""
    expected = -1
    late = []
    for number in arrivals:
        if number < expected:
            late.append(number)
        else:
            expected = number + 1
    return tuple(late)


def duplication_fraction(copies: Sequence[int]) -> float | None:
    """Return copies beyond the first per packet that arrived (RFC 5560 §5.1)."""
    arrived = [c for c in copies if c > 0]
    return sum(arrived) / len(arrived) - 1 if arrived else None


def replicated_rate(copies: Sequence[int]) -> float | None:
    """Return the share of arrived packets that came more than once (RFC 5560 §5.2)."""
    arrived = [c for c in copies if c > 0]
    return sum(c > 1 for c in arrived) / len(arrived) if arrived else None


def ipdv(delays: Sequence[float | None]) -> tuple[float | None, ...]:
    """Return D(i) - D(i-1) in sending order; None beside a loss (RFC 5481 §4.1)."""
    if not delays:
        return ()
    steps = (None if a is None or b is None else b - a for a, b in pairwise(delays))
    return (None, *steps)


def pdv(delays: Sequence[float | None]) -> tuple[float | None, ...]:
    """Return D(i) - D(min); None for a loss (RFC 5481 §4.2)."""
    least = min((d for d in delays if d is not None), default=None)
    return tuple(None if d is None or least is None else d - least for d in delays)


def interarrival_jitter(delays: Sequence[float | None]) -> float | None:
    """Return the smoothed variation of RFC 3550 §6.4.1 over delays in order of arrival."""
    value = 0.0
    known = [d for d in delays if d is not None]
    for before, after in pairwise(known):
        value += (abs(after - before) - value) / 16
    return value if len(known) > 1 else None
