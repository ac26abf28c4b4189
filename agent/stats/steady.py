"""Where the steady part of a transfer begins.

A ramp comes from below, a token bucket's burst from above: both are left where the running rate
first lies inside its later range. A start that falls outside that range once more soon after, as
after the losses that end slow start, is left out as well. A line that is uneven throughout keeps
its start, because its later range holds what it does from the beginning.
"""

from __future__ import annotations

from collections.abc import Sequence

from agent.stats.slices import Slice, running_rates

_GROUP_SLICES = 5
_LATER = 0.4
"""Share of the transfer at its end that the start is compared with."""

_SETTLING = 0.25
"""Share of what is left in which a start may still fall out of the later range."""

_BEYOND = 0.25
"""How far beyond the later range, in parts of it, still counts as inside."""

_DUST = 1e-5
"""Relative spread below which a line counts as constant, so that dust in the sums cuts nothing."""


def steady_from(slices: Sequence[Slice], opening_s: float = 0.0) -> int:
    """Return the index of the first slice of the steady part; three tenths are always kept.

    `opening_s` is how long the start-up of the transport lasts at least; up to a quarter of the
    slices is left out for it unseen.
    """
    size = min(_GROUP_SLICES, max(1, len(slices) // 8))
    rates = running_rates(slices, size)
    opened = sum(s.begin_s < opening_s for s in slices)
    entry = max(_entry(rates), min(opened, len(slices) // 4))
    return entry + _settling(rates[entry:])


def _entry(rates: Sequence[float]) -> int:
    """Return where the running rate first lies inside the range of the end."""
    most = int(len(rates) * (1 - _LATER))
    if not rates:
        return 0
    low, high = _range(rates[most:])
    inside = (i for i in range(most) if low <= rates[i] <= high)
    return next(inside, most)


def _settling(rates: Sequence[float]) -> int:
    """Return where the running rate was last outside its later range, early on."""
    early = int(len(rates) * _SETTLING)
    if not early:
        return 0
    low, high = _range(rates[early:])
    outside = (i + 1 for i in range(early - 1, -1, -1) if not low <= rates[i] <= high)
    return next(outside, 0)


def _range(rates: Sequence[float]) -> tuple[float, float]:
    low, high = min(rates), max(rates)
    margin = _BEYOND * (high - low) + _DUST * high
    return low - margin, high + margin
