"""The terminal's face: the same sheet in 80 columns and more, readable without any colour."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from io import TextIOWrapper
from typing import IO, TYPE_CHECKING

from rich.box import SQUARE
from rich.console import Console, Group, RenderableType
from rich.padding import Padding
from rich.table import Table as Grid
from rich.text import Text

from agent.sheet.model import (
    Bar,
    Cell,
    Ground,
    Labels,
    Listing,
    Mark,
    Pair,
    Pairs,
    Scale,
    Sheet,
    Table,
)
from agent.sheet.terminal_mounds import courses_parts, ruled, spreads_parts
from agent.sheet.tied import Tied

if TYPE_CHECKING:
    from rich.style import StyleType

NARROW, WIDE = 80, 120
SAMPLES_FROM = 100
LEFT_PARTS, RIGHT_PARTS = 9, 8
MARK = {Mark.KEPT: "✓", Mark.MISSED: "■", Mark.OPEN: "?"}
# One letter fills the panel of a segment: solid for a fault, open for what is clear.
FILL = {
    Ground.CLEAR: " ",
    Ground.LIKELY: "█",
    Ground.POSSIBLE: "▒",
    Ground.UNFIT: "▒",
    Ground.UNREACHED: "·",
    Ground.UNKNOWN: "·",
    Ground.ABSENT: " ",
}
STYLE: dict[Mark, StyleType] = {
    Mark.KEPT: "bold",
    Mark.MISSED: "bold reverse",
    Mark.OPEN: "bold underline",
}


def console_for(file: IO[str], width: int | None = None) -> Console:
    """Return a console of 80 to 120 columns for a stream; plain where it is no terminal."""
    # A stream of an older code page shows "?" for what it cannot write, rather than ending there.
    if isinstance(file, TextIOWrapper):
        file.reconfigure(errors="replace")
    found = Console(file=file, highlight=False, soft_wrap=False)
    wanted = width or found.width
    return Console(file=file, highlight=False, markup=False, width=min(WIDE, max(NARROW, wanted)))


def print_sheet(sheet: Sheet, console: Console, *, detail: bool = False) -> None:
    """Print the sheet, and the second one where it is asked for."""
    for part in _parts(sheet, console.width):
        console.print(part, markup=False, highlight=False)
    for part in _second(sheet, console.width) if detail else ():
        console.print(part, markup=False, highlight=False)


def print_blocks(blocks: Iterable[Pairs], console: Console) -> None:
    """Print blocks of labels and values, one under the other."""
    for block in blocks:
        console.print(_block(block), markup=False, highlight=False)


def print_listings(listings: Iterable[Listing], console: Console) -> None:
    """Print sentences under their titles."""
    for listing in listings:
        console.print(_listing(listing), markup=False, highlight=False)


def print_choices(question: str, choices: Iterable[str], file: IO[str]) -> None:
    """Print a question with its answers, numbered from 1."""
    grid = Grid.grid(padding=(0, 1))
    grid.add_column(justify="right")
    for number, text in enumerate(choices, 1):
        grid.add_row(str(number), Tied(text))
    for part in (Tied(f"\n{question}", "bold"), grid):
        console_for(file).print(part, markup=False, highlight=False)


def _parts(sheet: Sheet, width: int) -> Iterable[RenderableType]:
    dated = " · ".join(part for part in (sheet.title, sheet.dated) if part)
    yield _head(sheet.brand.company, dated, width)
    if sheet.brand.contact:
        yield Tied(sheet.brand.contact)
    for banner in sheet.banners:
        yield Tied(f"[ {banner} ]", "bold")
    head = sheet.headline
    yield Text("")
    yield Tied(f" {MARK[head.mark]}  {head.verdict} ", STYLE[head.mark])
    yield Tied(head.reason)
    yield Text("")
    yield _pairs(head.beside)
    if sheet.strip:
        yield ruled(sheet.strip_title, width)
        yield _strip(sheet.strip)
    if sheet.rates:
        yield ruled(sheet.rates_title, width)
        yield Group(*(_rate(bar, sheet.labels, width) for bar in sheet.rates))
    yield ruled(sheet.next_step.title, width)
    yield Tied(sheet.next_step.text, "bold")
    if sheet.next_step.caution:
        yield Tied(sheet.next_step.caution)
    if sheet.next_step.plain:
        yield Tied(f"{sheet.next_step.plain.label}: {sheet.next_step.plain.value}")
    if sheet.spreads:
        yield from spreads_parts(sheet.spreads, width)
    if sheet.courses:
        yield from courses_parts(sheet.courses, width)
    if sheet.promises:
        yield ruled(sheet.promises_title, width)
        yield _promises(sheet.promises, width)
        yield from _more(sheet.promises_more)
    yield from _support(sheet, width)


def _support(sheet: Sheet, width: int) -> Iterable[RenderableType]:
    blocks = [*map(_listing, sheet.listings), *map(_block, sheet.facts)]
    yield from _columns(blocks, width)
    yield _listing(sheet.cautions)
    proof, labels = sheet.proof, sheet.labels
    numbers = (
        Pair(label=labels.record, value=proof.record_id),
        Pair(label=labels.hash, value=proof.sha256),
    )
    yield _block(Pairs(title=labels.record, pairs=numbers))
    yield Tied(proof.how)
    yield _listing(Listing(title=sheet.ticket.label, items=(sheet.ticket.value,)))
    if sheet.brand.footer:
        yield Padding(Tied(sheet.brand.footer), (1, 0, 0, 0))


def _second(sheet: Sheet, width: int) -> Iterable[RenderableType]:
    detail = sheet.detail
    yield Padding(ruled(detail.title, width), (1, 0, 0, 0))
    yield Tied(f"{sheet.labels.continued} · {sheet.dated}")
    if detail.spreads:
        yield from spreads_parts(detail.spreads, width)
    tables = [*map(_table, detail.tables), *map(_listing, detail.listings)]
    yield from _columns([*tables, *map(_block, detail.facts)], width)


def _columns(blocks: Sequence[RenderableType], width: int) -> Iterable[RenderableType]:
    """Yield blocks one under the other, in two columns where the terminal is wide."""
    if width < WIDE:
        yield from blocks
        return
    half = (len(blocks) + 1) // 2
    grid = Grid.grid(padding=(0, 4, 0, 0), expand=True)
    grid.add_column(ratio=LEFT_PARTS)
    grid.add_column(ratio=RIGHT_PARTS)
    grid.add_row(Group(*blocks[:half]), Group(*blocks[half:]))
    yield grid


def _head(left: str, right: str, width: int) -> RenderableType:
    grid = Grid.grid(expand=True)
    grid.add_column(overflow="ellipsis", no_wrap=True)
    grid.add_column(justify="right", no_wrap=True)
    grid.width = width
    grid.add_row(Tied(left, "bold"), Tied(right))
    return grid


def _pairs(pairs: Sequence[Pair]) -> RenderableType:
    grid = Grid.grid(padding=(0, 2, 0, 0))
    for pair in pairs:
        grid.add_row(Tied(pair.label), Tied(pair.value))
    return grid


def _strip(cells: Sequence[Cell]) -> RenderableType:
    grid = Grid(box=SQUARE, show_header=False, expand=True, padding=(0, 0, 0, 1))
    for _ in cells:
        grid.add_column(ratio=1)
    bold: dict[Ground, StyleType] = {Ground.LIKELY: "bold reverse", Ground.POSSIBLE: "bold"}
    grid.add_row(*(Tied(cell.name, "bold") for cell in cells))
    grid.add_row(*(Text(FILL[cell.ground] * 40, no_wrap=True, overflow="crop") for cell in cells))
    grid.add_row(*(Tied(cell.state, bold.get(cell.ground, "")) for cell in cells))
    grid.add_row(*(Tied(cell.evidence) for cell in cells))
    return grid


def _rate(bar: Bar, labels: Labels, width: int) -> RenderableType:
    grid = Grid.grid(padding=(0, 2, 0, 0))
    interval = f" ({bar.interval})" if bar.interval else ""
    head = Text.assemble((f"{bar.label:<9} ", "bold"), (bar.value, "bold"), interval)
    grid.add_row(head, _outcome(bar), Tied(bar.sample))
    drawn = [Text(drawn_bar(bar.scale, width - 2))] if bar.scale else []
    sold = f"{labels.sold} {bar.sold}" if bar.sold else ""
    limit = f"{labels.accepted} {bar.limit}" if bar.limit else ""
    legend = "; ".join(part for part in (limit and f"| {limit}", sold and f": {sold}") if part)
    notes = [Tied(text) for text in (bar.aside, legend, bar.note) if text]
    return Group(grid, *drawn, *notes)


def _promises(bars: Sequence[Bar], width: int) -> RenderableType:
    grid = Grid.grid(padding=(0, 1, 0, 0), expand=True)
    grid.add_column(ratio=1)
    grid.add_column(justify="right", no_wrap=True)
    for _ in range(4 if width >= SAMPLES_FROM else 3):
        grid.add_column(no_wrap=True)
    for bar in bars:
        label = f"{bar.label}\n  {bar.note}" if bar.note else bar.label
        interval = f"({bar.interval})" if bar.interval else ""
        sample = (bar.sample,) if width >= SAMPLES_FROM else ()
        row = (label, bar.value, interval, bar.limit, *sample)
        grid.add_row(*(Tied(cell) for cell in row), _outcome(bar))
    return grid


def _outcome(bar: Bar) -> Text:
    return Tied(f"{MARK[bar.mark]} {bar.outcome}", STYLE[bar.mark])


def drawn_bar(scale: Scale, cells: int) -> str:
    """Return a bar: the value as blocks, | the limit, : what was sold, / the refused side."""
    last = cells - 1
    limit = None if scale.limit is None else round(scale.limit * last)
    value = round(scale.value * last)
    line = []
    for i in range(cells):
        refused = limit is not None and (i < limit if scale.at_least else i > limit)
        line.append("█" if i <= value and scale.value > 0 else "/" if refused else " ")
    if scale.sold is not None:
        line[round(scale.sold * last)] = ":"
    if limit is not None:
        line[limit] = "|"
    return "".join(line).rstrip()


def _table(table: Table) -> RenderableType:
    grid = Grid.grid(padding=(0, 1, 0, 0))
    grid.add_column()
    for _ in table.head[1:]:
        grid.add_column(justify="right", no_wrap=True)
    for row in (table.head, *table.rows):
        grid.add_row(*(Tied(value) for value in row))
    notes = [Tied(text) for text in (table.note, table.more) if text]
    return Padding(Group(Tied(table.title, "bold"), grid, *notes), (1, 0, 0, 0))


def _block(block: Pairs) -> RenderableType:
    parts = (Tied(block.title, "bold"), _pairs(block.pairs), *_more(block.more))
    return Padding(Group(*parts), (1, 0, 0, 0))


def _listing(listing: Listing) -> RenderableType:
    items = (Tied(item) for item in listing.items)
    parts = (Tied(listing.title, "bold"), *items, *_more(listing.more))
    return Padding(Group(*parts), (1, 0, 0, 0))


def _more(text: str) -> tuple[Text, ...]:
    return (Tied(text, "italic"),) if text else ()
