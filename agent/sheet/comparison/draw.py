"""Two intervals, one above the other, as the screen's page draws them."""

from __future__ import annotations

from collections.abc import Iterator

from agent.sheet.comparison.model import Apart, Interval
from agent.sheet.draw import line

FIRST, LAST, END = 0.25, 0.75, 0.17


def apart_svg(apart: Apart) -> str:
    """Return the interval of the first record above that of the last, each with its value."""
    parts = (*_whisker(apart.first, FIRST), *_whisker(apart.last, LAST))
    return f'<svg class="apart" aria-hidden="true">{"".join(parts)}</svg>'


def _whisker(interval: Interval, y: float) -> Iterator[str]:
    yield line("base", 0, y, 1, y)
    yield line("interval", interval.low, y, interval.high, y)
    for end in (interval.low, interval.high):
        yield line("interval", end, y - END, end, y + END)
    yield f'<circle class="dot" cx="{interval.value:.2%}" cy="{y:.1%}" r="0.2em"/>'
