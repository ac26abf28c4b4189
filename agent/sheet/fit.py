"""How small the print of the screen's page must be to stay on one sheet of paper.

A browser breaks pages by itself, so the size is chosen from a cautious estimate of the lines.
"""

from __future__ import annotations

from math import ceil

from agent.sheet.model import Bar, Listing, Pair, Pairs, Sheet, Table

# Points of height that Letter leaves between its margins (A4 leaves more), and the line pitch.
ROOM_PT = 792 - 2 * 9 / 25.4 * 72
PITCH = 1.24
LARGEST_PT, SMALLEST_PT = 8.6, 3.2
# Average letters of a wide sans per line at the print's proportions: half column, value, label.
COLUMN, VALUE, LABEL, PAGE = 54, 40, 22, 116
# Headings, rules and gaps, in lines.
BLOCK = 2.1
TOP_LINES, RATE_LINES, STRIP_LINES, STEP_LINES, PROOF_LINES = 8.0, 4.6, 6.5, 3.2, 11.0
WIDE_LETTER = 1.75


def print_size_pt(sheet: Sheet) -> float:
    """Return the type size in points at which the sheet prints on one page."""
    size = ROOM_PT / (lines(sheet) * PITCH)
    return round(max(SMALLEST_PT, min(LARGEST_PT, size)), 2)


def lines(sheet: Sheet) -> float:
    """Return about how many lines the printed page has."""
    left = sum(map(_table, sheet.tables)) + sum(map(_listing, sheet.listings))
    right = sum(map(_block, sheet.facts))
    beside = sum(_wrapped(p.value, VALUE) for p in sheet.headline.beside)
    top = max(TOP_LINES, beside + 2) + 2 * len(sheet.banners) + _wrapped(sheet.headline.reason, 50)
    middle = STRIP_LINES + STEP_LINES + _wrapped(sheet.next_step.text, PAGE)
    rates = sum(RATE_LINES + _wrapped(bar.note, 60) for bar in sheet.rates)
    promises = BLOCK + sum(map(_promise, sheet.promises)) + 1
    foot = max(PROOF_LINES, _listing(sheet.cautions))
    return top + middle + rates + promises + max(left, right) + foot


def _wrapped(text: str, width: int) -> int:
    wide = sum(WIDE_LETTER if c.isupper() or ord(c) > 0x2E7F else 1.0 for c in text)
    return max(1, ceil(wide / width))


def _promise(bar: Bar) -> float:
    note = _wrapped(bar.note, LABEL + 6) * 0.9 if bar.note else 0.0
    return _wrapped(bar.label, LABEL + 8) + note + 0.45


def _table(table: Table) -> float:
    rows = sum(_wrapped(row[0], LABEL) + 0.15 for row in table.rows)
    return (
        BLOCK + 1.2 + rows + (_wrapped(table.note, COLUMN) if table.note else 0) + bool(table.more)
    )


def _block(block: Pairs) -> float:
    return BLOCK + sum(map(_pair, block.pairs)) + bool(block.more)


def _pair(pair: Pair) -> float:
    return max(_wrapped(pair.value, VALUE), _wrapped(pair.label, LABEL)) + 0.15


def _listing(listing: Listing) -> float:
    return BLOCK + sum(_wrapped(item, COLUMN) for item in listing.items) + bool(listing.more)
