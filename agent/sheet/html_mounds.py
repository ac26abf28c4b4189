"""The distributions on the screen's page: a drawing, its axis, and the figures beside it."""

from __future__ import annotations

from collections.abc import Sequence
from html import escape

from agent.sheet.draw import course_svg, spread_svg
from agent.sheet.model import Course, Courses, Spread, Spreads, Tick

NEAR_END = 0.9


def spreads_html(spreads: Spreads) -> str:
    """Return the distributions of delay as a table whose second column is drawn."""
    head = "".join(f'<th scope="col">{_text(name)}</th>' for name in spreads.head)
    rows = "".join(_spread(row, spreads) for row in spreads.rows)
    more = f'<p class="more"><small>{_text(spreads.more)}</small></p>' if spreads.more else ""
    return (
        f'<section><h2>{_text(spreads.title)}</h2><table class="spreads"><thead><tr><td></td>'
        f"<td>{axis_html(spreads.ticks)}</td>{head}</tr></thead><tbody>{rows}</tbody></table>"
        f"<small>{_text(spreads.note)} {_text(spreads.marks)}</small>{more}</section>"
    )


def courses_html(courses: Courses) -> str:
    """Return the rates over time, one under the other over one axis."""
    rows = "".join(_course(row, courses.ticks) for row in courses.rows)
    return (
        f'<section><h2>{_text(courses.title)}</h2><div class="courses">{rows}'
        f"<div></div>{axis_html(courses.ticks)}</div>"
        f"<small>{_text(courses.note)} {_text(courses.marks)}</small></section>"
    )


def _text(value: str) -> str:
    return escape(value, quote=True)


def _spread(row: Spread, spreads: Spreads) -> str:
    told = ", ".join(f"{n} {c}" for n, c in zip(spreads.head, row.cells, strict=True))
    spoken = _text(f"{row.label}: {row.silent or told}")
    drawn = spread_svg(row, spreads.ticks, spoken)
    silent = f"<small>{_text(row.silent)}</small>" if row.silent else ""
    named = zip(spreads.head, row.cells, strict=True)
    cells = "".join(f'<td data-of="{_text(name)}">{_text(cell)}</td>' for name, cell in named)
    return f'<tr><th scope="row">{_text(row.label)}</th><td>{silent or drawn}</td>{cells}</tr>'


def _course(row: Course, ticks: Sequence[Tick]) -> str:
    spoken = _text(f"{row.label}: {row.mean}")
    return (
        f"<div>{_text(row.label)}<br><b>{_text(row.mean)}</b></div>"
        f"<div>{course_svg(row, ticks, spoken)}</div>"
    )


def axis_html(ticks: Sequence[Tick]) -> str:
    """Return the marks of an axis, each at its place."""
    return f'<div class="axis">{"".join(map(_tick, ticks))}</div>'


def _tick(tick: Tick) -> str:
    """Return a mark of an axis; near the end it ends with the axis rather than beyond it."""
    ends = ' class="ends"' if tick.at > NEAR_END else ""
    return f'<i{ends} style="left:{tick.at:.1%}">{_text(tick.text)}</i>'
