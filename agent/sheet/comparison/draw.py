"""Two intervals, one above the other, as the screen's page draws them."""

from __future__ import annotations

from collections.abc import Iterator

from agent.sheet.comparison.model import Apart, Interval

FIRST, LAST, END = 0.25, 0.75, 0.17


def apart_svg(apart: Apart) -> str:
    """Return the interval of the first record above that of the last, each with its value."""
    parts = (*_whisker(apart.first, FIRST), *_whisker(apart.last, LAST))
    return f'<svg class="apart" aria-hidden="true">{"".join(parts)}</svg>'


def _whisker(interval: Interval, y: float) -> Iterator[str]:
    yield _line("base", 0, y, 1, y)
    yield _line("interval", interval.low, y, interval.high, y)
    for end in (interval.low, interval.high):
        yield _line("interval", end, y - END, end, y + END)
    yield f'<circle class="dot" cx="{interval.value:.2%}" cy="{y:.1%}" r="0.2em"/>'


def _line(name: str, x1: float, y1: float, x2: float, y2: float) -> str:
    return f'<line class="{name}" x1="{x1:.2%}" y1="{y1:.1%}" x2="{x2:.2%}" y2="{y2:.1%}"/>'
