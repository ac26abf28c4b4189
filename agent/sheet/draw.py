"""A small SVG writer for the screen's page: bars and marks from positions between 0 and 1."""

from __future__ import annotations

from collections.abc import Iterator

from agent.sheet.model import Mark, Scale

# Patterns are defined once for the whole page and named by these ids.
PATTERNS = (
    '<svg class="defs" aria-hidden="true" width="0" height="0"><defs>'
    '<pattern id="refused" width="6" height="6" patternUnits="userSpaceOnUse" '
    'patternTransform="rotate(45)"><line class="thin" x1="0" y1="0" x2="0" y2="6"/></pattern>'
    '<pattern id="open" width="4" height="4" patternUnits="userSpaceOnUse" '
    'patternTransform="rotate(45)"><line class="thick" x1="0" y1="0" x2="0" y2="4"/></pattern>'
    "</defs></svg>"
)


def bar_svg(scale: Scale, height: float, title: str) -> str:
    """Return one bar: the refused side hatched, the limit a rule, the value with its interval.

    `title` must be escaped already.
    """
    parts = "".join(_bar_parts(scale, height))
    return (
        f'<svg class="bar" role="img" aria-label="{title}" width="100%" height="{height:g}">'
        f"{parts}</svg>"
    )


def mark_svg(mark: Mark) -> str:
    """Return the shape of a state; the word beside it says the same."""
    shapes = {
        Mark.KEPT: '<path class="tick" d="M1.5 6.5 L5 10 L11 2"/>',
        Mark.MISSED: '<rect class="full" x="1" y="1" width="10" height="10"/>',
        Mark.OPEN: '<rect class="half" x="1" y="1" width="10" height="10" fill="url(#open)"/>',
    }
    return f'<svg class="mark" aria-hidden="true" viewBox="0 0 12 12">{shapes[mark]}</svg>'


def _bar_parts(scale: Scale, height: float) -> Iterator[str]:
    middle = height / 2
    if scale.limit is not None:
        low, high = (0.0, scale.limit) if scale.at_least else (scale.limit, 1.0)
        yield _rect("refused", low, high, 0, height)
    yield _line("base", 0, height, 1, height)
    yield _rect("value", 0, scale.value, middle - height * 0.19, height * 0.38)
    if scale.low is not None and scale.high is not None:
        yield _line("interval", scale.low, middle, scale.high, middle)
        for end in (scale.low, scale.high):
            yield _line("interval", end, height * 0.2, end, height * 0.8)
    if scale.limit is not None:
        yield _line("limit", scale.limit, 0, scale.limit, height)
    if scale.sold is not None:
        yield _line("sold", scale.sold, 0, scale.sold, height)


def _rect(name: str, low: float, high: float, top: float, height: float) -> str:
    return (
        f'<rect class="{name}" x="{low:.2%}" y="{top:.1f}" '
        f'width="{max(0.0, high - low):.2%}" height="{height:.1f}"/>'
    )


def _line(name: str, x1: float, y1: float, x2: float, y2: float) -> str:
    return f'<line class="{name}" x1="{x1:.2%}" y1="{y1:.1f}" x2="{x2:.2%}" y2="{y2:.1f}"/>'
