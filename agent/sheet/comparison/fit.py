"""How small the print of records side by side must be to stay on one sheet of paper.

A browser breaks pages by itself, so the size is chosen from a cautious estimate of the lines.
"""

from __future__ import annotations

from collections.abc import Iterable
from math import ceil

from agent.sheet.comparison.model import Change, Column, Comparison, FigureRow, TextRow
from agent.sheet.fit import (
    CJK_FROM,
    LARGEST_PT,
    PITCH,
    ROOM_PT,
    WHOLE,
    WIDE_LETTER,
    size_for,
)
from agent.sheet.model import Bar

SIDE = {2: 0.165, 3: 0.14, 4: 0.125}
"""Share of the width that labels have, and the last column, by the number of records."""
GAP_LETTERS = 3
SMALL = 1.14
"""How many letters more a line of small print holds."""
ROW_GAP, PART, HEAD, FOOT = 0.5, 2.2, 4.5, 6.0
BAR_LINES, RATE_LINES, SPREAD_LINES, AXIS_LINES, STRIP_LINES = 1.1, 4.4, 4.6, 1.8, 1.6
SURE = 0.98
FULL_GUESS = 0.9


def print_size_pt(comparison: Comparison) -> float:
    """Return the type size in points at which the comparison prints on one page."""
    return size_for(lambda room: lines(comparison, room))


def paper_guess(comparison: Comparison) -> int:
    """Return which of the printed face's sizes is tried first."""
    filled = lines(comparison, 1.0) * PITCH * LARGEST_PT / ROOM_PT
    steps = (1.0, 1.12, 1.25, 1.4, 1.6, 1.9, 2.3, 2.8, 3.6, 4.8, 7.0, 10.0, 15.0, 25.0)
    return next((at for at, most in enumerate(steps) if filled * FULL_GUESS <= most), len(steps))


def lines(comparison: Comparison, room: float) -> float:
    """Return about how many lines the page has; `room` widens every line (1 at the largest)."""
    return _Page(comparison, room).lines() * SURE


class _Page:
    """Counts lines at one width."""

    def __init__(self, comparison: Comparison, room: float) -> None:
        self._shown, self._room = comparison, room
        count = len(comparison.columns)
        self._side = WHOLE * SIDE[count] - GAP_LETTERS
        self._column = WHOLE * (1 - 2 * SIDE[count]) / count - GAP_LETTERS

    def lines(self) -> float:
        shown = self._shown
        banners = sum(self._wrapped(b, WHOLE) + 0.9 for b in shown.banners)
        common = PART + ceil(len(shown.common) / 2) * 1.1
        top = self._top(shown.columns)
        about = sum(map(self._words, shown.about)) + sum(map(self._words, shown.facts)) + PART
        rates = PART + sum(self._figure(row, RATE_LINES) for row in shown.rates)
        promises = PART + sum(self._figure(row, 1.0 + BAR_LINES) for row in shown.figures)
        rest = self._wrapped(shown.figures_more, WHOLE) if shown.figures_more else 0
        notes = max(self._wrapped(t, WHOLE / 2) for t in (shown.note, shown.marks))
        return (
            HEAD
            + banners
            + common
            + top
            + about
            + rates
            + self._spreads()
            + promises
            + rest
            + (FOOT + notes)
        )

    def _wrapped(self, text: str, letters: float) -> int:
        wide = sum(WIDE_LETTER if c.isupper() or ord(c) > CJK_FROM else 1.0 for c in text)
        return max(1, ceil(wide / (letters * self._room)))

    def _highest(self, texts: Iterable[str]) -> int:
        return max((self._wrapped(text, self._column) for text in texts), default=1)

    def _top(self, columns: tuple[Column, ...]) -> float:
        verdict = 1.4 * self._highest(c.verdict for c in columns)
        reason = self._highest(c.reason for c in columns)
        place = STRIP_LINES + self._highest(c.place for c in columns)
        order = 1 + self._wrapped(self._shown.labels.order, self._side)
        steps = max(
            self._wrapped(c.step, self._column) + self._wrapped(c.caution, self._column)
            for c in columns
        )
        return 2.5 + verdict + reason + 1.5 + max(place, order) + steps + 4 * ROW_GAP

    def _words(self, row: TextRow) -> float:
        cells = max(self._highest(row.cells), self._wrapped(row.label, self._side))
        return max(cells, self._change(row.change)) + ROW_GAP

    def _change(self, change: Change) -> float:
        drawn = 1.5 if change.apart else 0.0
        return drawn + (self._wrapped(change.text, self._side) if change.text else 0)

    def _figure(self, row: FigureRow, least: float) -> float:
        cells = max(least + self._beside(bar) for bar in row.cells)
        under = self._wrapped(" · ".join(row.under), self._side * SMALL) if row.under else 0
        label = self._wrapped(row.label, self._side) + under
        note = self._wrapped(row.note, WHOLE * 0.8) + ROW_GAP if row.note else 0
        return max(cells, label, self._change(row.change)) + note + ROW_GAP

    def _beside(self, bar: Bar) -> float:
        told = " · ".join(t for t in (bar.limit, bar.sold, bar.sample, bar.aside, bar.note) if t)
        head = self._wrapped(f"{bar.value} {bar.interval} {bar.outcome}", self._column) - 1
        return head + (self._wrapped(told, self._column * SMALL) if told else 0)

    def _spreads(self) -> float:
        if self._shown.spreads is None:
            return 0.0
        rows = self._shown.spreads.rows
        return PART + AXIS_LINES + sum(max(SPREAD_LINES, self._change(r.change)) for r in rows)
