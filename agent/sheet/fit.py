"""How small the print of the screen's page must be to stay on one sheet of paper.

A browser breaks pages by itself, so the size is chosen from a cautious estimate of the lines.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from math import ceil

from agent.sheet.model import Bar, Detail, Listing, Pair, Pairs, Sheet, Spreads, Table

# Points of height that Letter leaves between its margins (A4 leaves more), and the line pitch.
ROOM_PT = 792 - 2 * 9 / 25.4 * 72
PITCH = 1.12
LARGEST_PT, SMALLEST_PT, STEP_PT = 8.2, 3.2, 0.2
# Sizes that the template tries, what a line takes at the first of them, the height of each paper
# between its margins, and how full a page may be guessed.
SIZES = (8.6, 8.2, 7.8, 7.4, 7.0, 6.4, 5.8, 5.2, 4.7, 4.0, 3.5, 2.8, 2.3, 1.75, 1.2)
FIRST_LINE_PT, SECOND_LINE_PT = 7.9, 7.75
HEIGHT_PT = {"a4": 788.0, "letter": 738.0}
FULL = 0.97
# Letters of a wide sans on a line at the largest size: third of the width, value and label in it,
# whole width, and others.
THIRD, VALUE, LABEL, WHOLE, REASON, NOTE, ASIDE = 38, 26, 16, 118, 52, 62, 18
# Headings, rules and gaps, in lines.
BLOCK = 2.1
TOP_LINES, RATE_LINES, STRIP_LINES, STEP_LINES, PROOF_LINES = 7.5, 4.6, 7.5, 3.4, 11.0
SPREAD_LINES, COURSE_LINES, AXIS_LINES, FOOT_LINES = 1.75, 4.4, 3.2, 3.0
# Columns of blocks on either sheet, and how much wider those of the second are.
COLUMNS, DETAIL_COLUMNS, DETAIL_ROOM = 3, 2, 1.5
# Columns never come out even: a share of what stands in them is left blank.
UNEVEN = 1.12
WIDE_LETTER, WIDEST_LETTER, WIDEST = 2.0, 4.4, frozenset("MW@%")
CJK_FROM = 0x2E7F


def print_size_pt(sheet: Sheet) -> float:
    """Return the type size in points at which the sheet prints on one page."""
    return size_for(lambda room: lines(sheet, room))


def second_size_pt(sheet: Sheet) -> float:
    """Return the type size in points at which the second sheet prints on one page."""
    return size_for(lambda room: detail_lines(sheet.detail, room))


def paper_guess(sheet: Sheet, paper: str) -> tuple[int, int]:
    """Return which of the printed face's sizes each sheet will probably need."""
    first = lines(sheet, 1.0) * FIRST_LINE_PT / HEIGHT_PT[paper]
    return _step(first), _step(detail_lines(sheet.detail, 1.0) * SECOND_LINE_PT / HEIGHT_PT[paper])


def columns(sheet: Sheet) -> tuple[tuple[int, ...], tuple[int, ...]]:
    """Return in which column each block of the first and of the second sheet stands.

    Blocks keep their order; a new column begins once a fair share of all lines is used.
    """
    page, detail = _Page(1.0), _Page(DETAIL_ROOM)
    first = (*map(page.listing, sheet.listings), *map(page.block, sheet.facts))
    second = (
        *map(detail.table, sheet.detail.tables),
        *map(detail.listing, sheet.detail.listings),
        *map(detail.block, sheet.detail.facts),
    )
    return _shared_out(first, COLUMNS), _shared_out(second, DETAIL_COLUMNS)


def _shared_out(heights: Sequence[float], count: int) -> tuple[int, ...]:
    share, used, stands = sum(heights) / count, 0.0, []
    for height in heights:
        stands.append(min(count - 1, int((used + height / 2) / share)))
        used += height
    return tuple(stands)


def _step(filled: float) -> int:
    """Return the first size at which a page so full at the largest one has room.

    Type of a size takes height by its power of 1.5: smaller letters also break fewer lines.
    """
    found = (at for at, size in enumerate(SIZES) if filled * (size / SIZES[0]) ** 1.5 <= FULL)
    return next(found, len(SIZES) - 1)


def size_for(count: Callable[[float], float]) -> float:
    """Return the largest size in points at which a page has room for its lines.

    `count` tells how many there are where every line is that many times as wide as at the largest.
    """
    size = LARGEST_PT
    while size > SMALLEST_PT and count(LARGEST_PT / size) * PITCH * size > ROOM_PT:
        size -= STEP_PT
    return round(size, 1)


def lines(sheet: Sheet, room: float) -> float:
    """Return about how many lines the page has; `room` widens every line (1 at the largest)."""
    page = _Page(room)
    beside = sum(page.wrapped(p.value, VALUE) for p in sheet.headline.beside)
    top = max(TOP_LINES + page.wrapped(sheet.headline.reason, REASON), beside + 3)
    top += 2 * len(sheet.banners)
    rates = sum(map(page.rate, sheet.rates))
    promises = BLOCK + sum(map(page.promise, sheet.promises)) + 1
    blocks = sum(map(page.listing, sheet.listings)) + sum(map(page.block, sheet.facts))
    foot = max(PROOF_LINES, page.listing(sheet.cautions)) + FOOT_LINES
    middle = page.mounds(sheet) + promises + blocks / COLUMNS * UNEVEN
    return top + page.strip(sheet) + page.step(sheet) + rates + middle + foot


def detail_lines(detail: Detail, room: float) -> float:
    """Return about how many lines the second sheet has."""
    page = _Page(room * DETAIL_ROOM)
    mounds = page.spreads(detail.spreads) if detail.spreads else 0.0
    blocks = sum(map(page.table, detail.tables)) + sum(map(page.listing, detail.listings))
    blocks += sum(map(page.block, detail.facts))
    return 4 + mounds + blocks / DETAIL_COLUMNS * UNEVEN + 2


def _width(letter: str) -> float:
    """Return about how wide a letter is; a word of wide ones also wastes the ends of lines."""
    if letter in WIDEST:
        return WIDEST_LETTER
    return WIDE_LETTER if letter.isupper() or ord(letter) > CJK_FROM else 1.0


class _Page:
    """Counts lines at one width."""

    def __init__(self, room: float) -> None:
        self._room = room

    def wrapped(self, text: str, letters: int) -> int:
        return max(1, ceil(sum(map(_width, text)) / (letters * self._room)))

    def strip(self, sheet: Sheet) -> float:
        most = max((self.wrapped(c.evidence, ASIDE) for c in sheet.strip), default=1)
        states = max((self.wrapped(c.state, ASIDE) for c in sheet.strip), default=1)
        return STRIP_LINES + most + states - 2

    def step(self, sheet: Sheet) -> float:
        step, plain = sheet.next_step, sheet.next_step.plain
        said = self.wrapped(step.text, WHOLE) + self.wrapped(step.caution, WHOLE)
        told = self.wrapped(plain.value, WHOLE - len(plain.label)) if plain else 0
        return STEP_LINES + said + told

    def rate(self, bar: Bar) -> float:
        beside = self.wrapped(bar.aside, ASIDE) - 1 if bar.aside else 0
        return RATE_LINES + max(self.wrapped(bar.note, NOTE), beside)

    def mounds(self, sheet: Sheet) -> float:
        left = self.spreads(sheet.spreads) if sheet.spreads else 0.0
        right = 0.0
        if sheet.courses is not None:
            note = self.wrapped(sheet.courses.note, THIRD + 10)
            right = BLOCK + AXIS_LINES + COURSE_LINES * len(sheet.courses.rows) + note
        return max(left, right)

    def spreads(self, spreads: Spreads) -> float:
        note = self.wrapped(spreads.note, THIRD * 2)
        return BLOCK + AXIS_LINES + SPREAD_LINES * len(spreads.rows) + note + bool(spreads.more)

    def promise(self, bar: Bar) -> float:
        note = self.wrapped(bar.note, LABEL + 12) * 0.9 if bar.note else 0.0
        return self.wrapped(bar.label, LABEL + 14) + note + 0.45

    def table(self, table: Table) -> float:
        rows = sum(self.wrapped(row[0], LABEL + 6) + 0.15 for row in table.rows)
        note = self.wrapped(table.note, THIRD) if table.note else 0
        return BLOCK + 1.2 + rows + note + bool(table.more)

    def block(self, block: Pairs) -> float:
        head = self.wrapped(block.title, THIRD) - 1
        return BLOCK + head + sum(map(self.pair, block.pairs)) + bool(block.more)

    def pair(self, pair: Pair) -> float:
        return max(self.wrapped(pair.value, VALUE), self.wrapped(pair.label, LABEL)) + 0.15

    def listing(self, listing: Listing) -> float:
        items = sum(self.wrapped(i, THIRD) for i in listing.items)
        return BLOCK + items + 0.3 * len(listing.items) + bool(listing.more)
