"""How small the print of the screen's page must be to stay on one sheet of paper.

A browser breaks pages by itself, so the size is chosen from a cautious estimate of the lines.
"""

from __future__ import annotations

from math import ceil

from agent.sheet.model import Bar, Listing, Pair, Pairs, Sheet, Table

# Points of height that Letter leaves between its margins (A4 leaves more), and the line pitch.
ROOM_PT = 792 - 2 * 9 / 25.4 * 72
PITCH = 1.2
LARGEST_PT, SMALLEST_PT, STEP_PT = 8.6, 3.4, 0.2
# Letters of a wide sans on a line at the largest size: half column, value, label, whole width.
COLUMN, VALUE, LABEL, WHOLE, REASON, NOTE, ASIDE = 54, 40, 22, 110, 50, 58, 18
# Headings, rules and gaps, in lines.
BLOCK = 2.1
TOP_LINES, RATE_LINES, STRIP_LINES, STEP_LINES, PROOF_LINES = 7.0, 4.6, 7.5, 3.2, 11.0
WIDE_LETTER = 1.75
CJK_FROM = 0x2E7F


def print_size_pt(sheet: Sheet) -> float:
    """Return the type size in points at which the sheet prints on one page."""
    size = LARGEST_PT
    while size > SMALLEST_PT and lines(sheet, LARGEST_PT / size) * PITCH * size > ROOM_PT:
        size -= STEP_PT
    return round(size, 1)


def lines(sheet: Sheet, room: float) -> float:
    """Return about how many lines the page has; `room` widens every line (1 at the largest)."""
    page = _Page(room)
    left = sum(map(page.table, sheet.tables)) + sum(map(page.listing, sheet.listings))
    right = sum(map(page.block, sheet.facts)) + sum(map(page.table, sheet.side_tables))
    beside = sum(page.wrapped(p.value, VALUE - 6) for p in sheet.headline.beside)
    reason = page.wrapped(sheet.headline.reason, REASON)
    top = max(TOP_LINES + reason, beside + 3) + 2 * len(sheet.banners)
    middle = STRIP_LINES + STEP_LINES + page.wrapped(sheet.next_step.text, WHOLE)
    plain = sheet.next_step.plain
    middle += page.wrapped(plain.value, WHOLE - len(plain.label)) if plain else 0
    rates = sum(map(page.rate, sheet.rates))
    promises = BLOCK + sum(map(page.promise, sheet.promises)) + 1
    foot = max(PROOF_LINES, page.listing(sheet.cautions))
    return top + middle + rates + promises + max(left, right) + foot


class _Page:
    """Counts lines at one width."""

    def __init__(self, room: float) -> None:
        self._room = room

    def wrapped(self, text: str, letters: int) -> int:
        wide = sum(WIDE_LETTER if c.isupper() or ord(c) > CJK_FROM else 1.0 for c in text)
        return max(1, ceil(wide / (letters * self._room)))

    def rate(self, bar: Bar) -> float:
        beside = self.wrapped(bar.aside, ASIDE) - 1 if bar.aside else 0
        return RATE_LINES + max(self.wrapped(bar.note, NOTE), beside)

    def promise(self, bar: Bar) -> float:
        note = self.wrapped(bar.note, LABEL + 6) * 0.9 if bar.note else 0.0
        return self.wrapped(bar.label, LABEL + 8) + note + 0.45

    def table(self, table: Table) -> float:
        rows = sum(self.wrapped(row[0], LABEL) + 0.15 for row in table.rows)
        note = self.wrapped(table.note, COLUMN) if table.note else 0
        return BLOCK + 1.2 + rows + note + bool(table.more)

    def block(self, block: Pairs) -> float:
        return BLOCK + sum(map(self.pair, block.pairs)) + bool(block.more)

    def pair(self, pair: Pair) -> float:
        return max(self.wrapped(pair.value, VALUE), self.wrapped(pair.label, LABEL)) + 0.15

    def listing(self, listing: Listing) -> float:
        return BLOCK + sum(self.wrapped(i, COLUMN) for i in listing.items) + bool(listing.more)
