"""Records side by side on a terminal: words in columns, what is drawn under one another.

Eighty columns have no room for four bars beside each other, and bars that begin under one another
compare well.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence

from rich.box import SIMPLE_HEAD
from rich.console import Console, Group, RenderableType
from rich.table import Table as Grid
from rich.text import Text

from agent.sheet.comparison.model import (
    Change,
    Comparison,
    FigureRow,
    SpreadCell,
    SpreadRows,
    TextRow,
)
from agent.sheet.model import Bar, Pair
from agent.sheet.terminal import MARK, STYLE, drawn_bar
from agent.sheet.terminal_mounds import axis_line, marked_line, ruled
from agent.sheet.tied import Tied

LABEL_PARTS, COLUMN_PARTS, CHANGE_PARTS = 3, 5, 3
MOST_NAME = 20
GAP = 2


def print_comparison(comparison: Comparison, console: Console) -> None:
    """Print the comparison, in the width of the console."""
    for part in _Page(comparison, console.width).parts():
        console.print(part, markup=False, highlight=False)


class _Page:
    """The parts of one page, which all name its columns."""

    def __init__(self, comparison: Comparison, width: int) -> None:
        self._shown, self._width = comparison, width
        self._names = tuple(column.label for column in comparison.columns)
        labels = (*self._names, comparison.labels.change)
        self._beside = min(MOST_NAME, max(map(len, labels)))

    def parts(self) -> Iterator[RenderableType]:
        shown = self._shown
        yield Tied(f"{shown.title} · {shown.brand.company}".removesuffix(" · "), "bold")
        if shown.brand.contact:
            yield Tied(shown.brand.contact)
        yield from (Tied(f"[ {banner} ]", "bold") for banner in shown.banners)
        if shown.common:
            yield ruled(shown.labels.common, self._width)
            yield _pairs(shown.common)
        yield Text("")
        yield self._columns(self._top())
        if shown.rates:
            yield ruled(shown.rates_title, self._width)
            yield from self._figures(shown.rates)
        if shown.spreads:
            yield from self._spreads(shown.spreads)
        if shown.figures:
            yield ruled(shown.figures_title, self._width)
            yield self._columns(map(self._lesser, shown.figures))
        if shown.figures_more:
            yield Tied(shown.figures_more, "italic")
        yield ruled(shown.facts_title, self._width)
        yield self._columns(_words(row) for row in shown.facts)
        told = (shown.note, *shown.cautions.items, shown.how, shown.brand.footer)
        yield from (Tied(text) for text in told if text)

    def _columns(self, rows: Iterable[Sequence[RenderableType]]) -> RenderableType:
        """Return rows under the names of the columns."""
        grid = Grid(box=SIMPLE_HEAD, expand=True, padding=(0, 1, 0, 0), pad_edge=False)
        grid.add_column("", ratio=LABEL_PARTS, overflow="fold")
        for name in self._names:
            grid.add_column(Tied(name, "bold"), ratio=COLUMN_PARTS, overflow="fold")
        grid.add_column(Tied(self._shown.labels.change), ratio=CHANGE_PARTS, overflow="fold")
        for row in rows:
            grid.add_row(*row)
        return grid

    def _top(self) -> Iterator[Sequence[RenderableType]]:
        shown, labels = self._shown, self._shown.labels
        columns = shown.columns
        verdicts = (Tied(f"{MARK[c.mark]} {c.verdict}", STYLE[c.mark]) for c in columns)
        yield (Tied(labels.verdict), *verdicts, _change(shown.verdict_change))
        yield ("", *(Tied(c.reason) for c in columns), "")
        places = (Tied(c.place) for c in columns)
        yield (Tied(labels.place), *places, _change(shown.place_change))
        steps = (Tied(f"{c.step} {c.caution}".strip()) for c in columns)
        yield (Tied(labels.step), *steps, _change(shown.step_change))
        yield from (_words(row) for row in shown.about)

    def _lesser(self, row: FigureRow) -> Sequence[RenderableType]:
        label = "\n".join(text for text in (row.label, *row.under, row.note) if text)
        return (Tied(label), *(Tied(_told(bar)) for bar in row.cells), _change(row.change))

    def _figures(self, rows: Sequence[FigureRow]) -> Iterator[RenderableType]:
        for row in rows:
            yield Tied(row.label, "bold")
            yield from (Tied(text) for text in (*row.under, row.note) if text)
            yield self._stack((self._bar(bar) for bar in row.cells), row.change)

    def _bar(self, bar: Bar) -> Iterator[RenderableType]:
        head = Text.assemble((bar.value, "bold"), f"{_interval(bar)}  ")
        yield head.append_text(Tied(f"{MARK[bar.mark]} {bar.outcome}", STYLE[bar.mark]))
        if bar.scale:
            yield Text(drawn_bar(bar.scale, self._room), no_wrap=True)
        sold = f"{self._shown.labels.sold} {bar.sold}" if bar.sold else ""
        told = _listed(bar.limit, sold, bar.sample, bar.aside, bar.note)
        if told:
            yield Tied(told)

    def _spreads(self, spreads: SpreadRows) -> Iterator[RenderableType]:
        yield ruled(spreads.title, self._width)
        axis = axis_line(spreads.ticks, self._room)
        for row in spreads.rows:
            yield Tied(row.label, "bold")
            yield self._stack(((axis,), *map(self._mound, row.cells)), row.change)

    def _mound(self, cell: SpreadCell) -> Iterator[RenderableType]:
        if cell.spread.silent:
            yield Tied(cell.spread.silent)
        else:
            yield Text(marked_line(cell.spread, self._room), no_wrap=True)
            yield Tied(_listed(cell.figures, cell.sample))

    def _stack(self, cells: Iterable[Iterable[RenderableType]], change: Change) -> RenderableType:
        """Return cells under one another, each beside the name of its column."""
        grid = Grid.grid(padding=(0, GAP, 0, 0))
        grid.add_column(width=self._beside, overflow="fold")
        grid.add_column(width=self._room, overflow="fold")
        drawn = [Group(*cell) for cell in cells]
        names = ("",) * (len(drawn) - len(self._names)) + self._names
        for name, cell in zip(names, drawn, strict=True):
            grid.add_row(Tied(name), cell)
        if change.text:
            grid.add_row(Tied(self._shown.labels.change), _change(change))
        return grid

    @property
    def _room(self) -> int:
        return self._width - self._beside - 2 * GAP


def _words(row: TextRow) -> Sequence[RenderableType]:
    return (Tied(row.label), *map(Tied, row.cells), _change(row.change))


def _change(change: Change) -> RenderableType:
    return Tied(change.text, "bold" if change.figure else "")


def _pairs(pairs: Sequence[Pair]) -> RenderableType:
    grid = Grid.grid(padding=(0, GAP, 0, 0))
    for pair in pairs:
        grid.add_row(Tied(pair.label), Tied(pair.value))
    return grid


def _interval(bar: Bar) -> str:
    return f" ({bar.interval})" if bar.interval else ""


def _told(bar: Bar) -> str:
    head = f"{MARK[bar.mark]} {bar.value}{_interval(bar)} {bar.outcome}"
    return "\n".join(
        text for text in (head, _listed(bar.limit, bar.sample, bar.aside, bar.note)) if text
    )


def _listed(*texts: str) -> str:
    return " · ".join(text for text in texts if text)
