"""The distributions on a terminal: heights as blocks of eighths, figures beside them."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from rich.console import RenderableType
from rich.padding import Padding
from rich.table import Table as Grid
from rich.text import Text

from agent.sheet.model import Course, Courses, Spread, Spreads, Tick
from agent.sheet.tied import Tied

EIGHTHS = " ▁▂▃▄▅▆▇█"
ROWS = 3
"""Lines of a course; a distribution has one."""
SPREAD_BESIDE, COURSE_BESIDE = 54, 18
LEAST_CELLS = 24


def ruled(text: str, width: int) -> RenderableType:
    """Return a title with a rule to the edge."""
    rule = "─" * max(0, width - len(text) - 1)
    return Padding(Text.assemble((text, "bold"), " ", rule), (1, 0, 0, 0))


def spreads_parts(spreads: Spreads, width: int) -> Iterable[RenderableType]:
    """Yield distributions one under the other on one axis."""
    cells = max(LEAST_CELLS, width - SPREAD_BESIDE)
    grid = Grid.grid(padding=(0, 1, 0, 0))
    grid.add_column(overflow="fold")
    grid.add_column(no_wrap=True, width=cells)
    for _ in spreads.head:
        grid.add_column(justify="right", no_wrap=True)
    grid.add_row("", axis_line(spreads.ticks, cells), *spreads.head)
    for row in spreads.rows:
        drawn = row.silent or marked_line(row, cells)
        grid.add_row(Tied(row.label), Text(drawn), *(Text(cell) for cell in row.cells))
    yield ruled(spreads.title, width)
    yield grid
    yield Tied(spreads.note)
    if spreads.more:
        yield Tied(spreads.more, "italic")


def courses_parts(courses: Courses, width: int) -> Iterable[RenderableType]:
    """Yield the rates over time, one under the other over one axis."""
    cells = max(LEAST_CELLS, width - COURSE_BESIDE)
    grid = Grid.grid(padding=(0, 1, 0, 0))
    grid.add_column(width=COURSE_BESIDE - 1)
    grid.add_column(no_wrap=True, width=cells)
    for row in courses.rows:
        grid.add_row(Tied(f"{row.label}\n{row.mean}"), Text("\n".join(_course(row, cells))))
    grid.add_row("", axis_line(courses.ticks, cells))
    yield ruled(courses.title, width)
    yield grid
    yield Tied(courses.note)


def marked_line(row: Spread, cells: int) -> str:
    """Return one line of blocks, with | where the limit stands."""
    line = list(block_lines(row.heights, cells, 1)[0])
    if row.limit_at is not None:
        line[min(cells - 1, round(row.limit_at * (cells - 1)))] = "|"
    return "".join(line)


def _course(row: Course, cells: int) -> list[str]:
    """Return the lines of a course: what was not counted is dotted, the limit a rule."""
    lines = [list(line) for line in block_lines(row.heights, cells, ROWS)]
    for at in range(cells):
        middle = (at + 0.5) / cells
        if not row.counted_from <= middle <= row.counted_to:
            for line in lines:
                line[at] = " " if line[at] == " " else "·"
    if row.limit_at is not None:
        level = ROWS - 1 - min(ROWS - 1, int(row.limit_at * ROWS))
        lines[level] = ["─" if cell in " ·" else cell for cell in lines[level]]
    return ["".join(line) for line in lines]


def block_lines(heights: Sequence[float], cells: int, rows: int) -> list[str]:
    """Return heights as lines of blocks, the top line first; a cell shows the highest it covers."""
    shown = [_highest(heights, at / cells, (at + 1) / cells) for at in range(cells)]
    return [
        "".join(_block(height * rows - (rows - 1 - line)) for height in shown)
        for line in range(rows)
    ]


def _highest(heights: Sequence[float], began: float, ended: float) -> float:
    if not heights:
        return 0.0
    first = int(began * len(heights))
    last = max(first + 1, int(ended * len(heights)))
    return max(heights[first:last], default=0.0)


def _block(filled: float) -> str:
    """Return the block that a share of one cell fills; anything above nothing shows."""
    if filled <= 0:
        return EIGHTHS[0]
    return EIGHTHS[max(1, min(8, round(filled * 8)))]


def axis_line(ticks: Sequence[Tick], cells: int) -> Text:
    """Return the values of an axis, each over its place; one that has no room is left out."""
    line = [" "] * cells
    free = 0
    for tick in ticks:
        began = min(cells - len(tick.text), max(0, round(tick.at * cells) - len(tick.text) // 2))
        if began >= free:
            line[began : began + len(tick.text)] = tick.text
            free = began + len(tick.text) + 1
    return Text("".join(line))
