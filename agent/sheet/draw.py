"""A small SVG writer for the screen's page: bars, mounds and marks from places between 0 and 1.

Everything is told in shares of width and height; the style sheet gives both, in letters, so that
drawings shrink with the print.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from agent.sheet.model import Course, Mark, Scale, Spread, Tick

# Patterns are defined once for the whole page and named by these ids.
PATTERNS = (
    '<svg class="defs" aria-hidden="true" width="0" height="0"><defs>'
    '<pattern id="refused" width="6" height="6" patternUnits="userSpaceOnUse" '
    'patternTransform="rotate(45)"><line class="thin" x1="0" y1="0" x2="0" y2="6"/></pattern>'
    '<pattern id="open" width="4" height="4" patternUnits="userSpaceOnUse" '
    'patternTransform="rotate(45)"><line class="thick" x1="0" y1="0" x2="0" y2="4"/></pattern>'
    "</defs></svg>"
)
THICK = 0.38
BELOW = 1.1
"""A tick ends a little below its axis."""


def bar_svg(scale: Scale, spoken: str) -> str:
    """Return one bar: the refused side hatched, the limit a rule, the value with its interval.

    `spoken` must be escaped already.
    """
    return _drawing("bar", "".join(_bar_parts(scale)), spoken)


def mark_svg(mark: Mark) -> str:
    """Return the shape of a state; the word beside it says the same."""
    shapes = {
        Mark.KEPT: '<path class="tick" d="M1.5 6.5 L5 10 L11 2"/>',
        Mark.MISSED: '<rect class="full" x="1" y="1" width="10" height="10"/>',
        Mark.OPEN: '<rect class="half" x="1" y="1" width="10" height="10" fill="url(#open)"/>',
    }
    return f'<svg class="mark" aria-hidden="true" viewBox="0 0 12 12">{shapes[mark]}</svg>'


def spread_svg(spread: Spread, ticks: Sequence[Tick], spoken: str) -> str:
    """Return a distribution over its axis: a mound, long tick the median, short the percentile.

    `spoken` must be escaped already.
    """
    parts = [*_grille(ticks), _mound(spread.heights, "value"), line("base", 0, 1, 1, 1)]
    if spread.limit_at is not None:
        parts.append(_upright("limit", spread.limit_at, 0, 1))
    if spread.p95_at is not None:
        parts.append(_upright("figure", spread.p95_at, 0.6, BELOW))
    if spread.median_at is not None:
        parts.append(_upright("figure", spread.median_at, 0, BELOW))
    return _drawing("mound", "".join(parts), spoken)


def course_svg(course: Course, ticks: Sequence[Tick], spoken: str) -> str:
    """Return a rate over time: the counted part filled, the rest pale, mean and limit across.

    `spoken` must be escaped already.
    """
    began, ended, mean = course.counted_from, course.counted_to, 1 - course.mean_at
    parts = [*_grille(ticks), _mound(course.heights, "uncounted")]
    parts += [_mound(_only(course.heights, began, ended), "value"), line("base", 0, 1, 1, 1)]
    if course.limit_at is not None:
        parts.append(line("limit", 0, 1 - course.limit_at, 1, 1 - course.limit_at))
    parts += [line(name, began, mean, ended, mean) for name in ("halo", "figure")]
    return _drawing("mound", "".join(parts), spoken)


def _only(heights: Sequence[float], began: float, ended: float) -> tuple[float, ...]:
    """Return the heights of the parts whose middle lies between two places, else none."""
    count = len(heights)
    return tuple(
        height if began <= (at + 0.5) / count <= ended else 0.0 for at, height in enumerate(heights)
    )


def _mound(heights: Sequence[float], name: str) -> str:
    if not heights:
        return ""
    steps = "".join(f"V{1 - height:.3f}H{at}" for at, height in enumerate(heights, start=1))
    return (
        f'<svg viewBox="0 0 {len(heights)} 1" preserveAspectRatio="none" width="100%" '
        f'height="100%"><path class="{name}" d="M0 1{steps}V1Z"/></svg>'
    )


def _grille(ticks: Sequence[Tick]) -> Iterator[str]:
    for tick in ticks:
        yield _upright("grille", tick.at, 0, 1)


def _drawing(name: str, parts: str, spoken: str) -> str:
    return f'<svg class="{name}" role="img" aria-label="{spoken}">{parts}</svg>'


def _bar_parts(scale: Scale) -> Iterator[str]:
    if scale.limit is not None:
        low, high = (0.0, scale.limit) if scale.at_least else (scale.limit, 1.0)
        yield _rect("refused", low, high, 0, 1)
    yield line("base", 0, 1, 1, 1)
    yield _rect("value", 0, scale.value, 0.5 - THICK / 2, THICK)
    if scale.low is not None and scale.high is not None:
        yield line("interval", scale.low, 0.5, scale.high, 0.5)
        for end in (scale.low, scale.high):
            yield _upright("interval", end, 0.2, 0.8)
    if scale.limit is not None:
        yield _upright("limit", scale.limit, 0, 1)
    if scale.sold is not None:
        yield _upright("sold", scale.sold, 0, 1)


def _rect(name: str, low: float, high: float, top: float, height: float) -> str:
    return (
        f'<rect class="{name}" x="{low:.2%}" y="{top:.1%}" '
        f'width="{max(0.0, high - low):.2%}" height="{height:.1%}"/>'
    )


def _upright(name: str, at: float, top: float, bottom: float) -> str:
    return line(name, at, top, at, bottom)


def line(name: str, x1: float, y1: float, x2: float, y2: float) -> str:
    """Return a line of a class between two places, each from 0 to 1 of width and height."""
    return f'<line class="{name}" x1="{x1:.2%}" y1="{y1:.1%}" x2="{x2:.2%}" y2="{y2:.1%}"/>'
