"""What stands on the page of records side by side, ready for any face; nothing left to compute."""

from __future__ import annotations

from dataclasses import dataclass

from agent.sheet.model import Bar, Brand, Cell, Listing, Mark, Pair, Spread, Tick


@dataclass(frozen=True, slots=True, kw_only=True)
class Column:
    """One record: what tells it from the others, what was concluded and what to do."""

    label: str
    mark: Mark
    verdict: str
    reason: str
    strip: tuple[Cell, ...]
    place: str
    step: str
    caution: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Interval:
    """A value within its interval, as positions from 0 to 1."""

    low: float
    value: float
    high: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Apart:
    """The intervals of the first and the last record on a scale that both just fill."""

    first: Interval
    last: Interval


@dataclass(frozen=True, slots=True, kw_only=True)
class Change:
    """How the last differs from the first; `told` where it does, a `figure` by more than chance."""

    text: str
    told: bool = False
    figure: bool = False
    apart: Apart | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class TextRow:
    """One circumstance or conclusion, a cell for each record."""

    label: str
    cells: tuple[str, ...]
    change: Change


@dataclass(frozen=True, slots=True, kw_only=True)
class FigureRow:
    """One criterion: bars on one scale; `under` and `note` hold for every cell and are said once.

    `under` stands under the label, `note` is longer and runs below the cells.
    """

    label: str
    under: tuple[str, ...]
    note: str
    cells: tuple[Bar, ...]
    change: Change


@dataclass(frozen=True, slots=True, kw_only=True)
class SpreadCell:
    """A mound with its figures and what they rest on; both empty where there is no series."""

    spread: Spread
    figures: str
    sample: str


@dataclass(frozen=True, slots=True, kw_only=True)
class SpreadRow:
    """The delay under one load: a mound for each record."""

    label: str
    cells: tuple[SpreadCell, ...]
    change: Change


@dataclass(frozen=True, slots=True, kw_only=True)
class SpreadRows:
    """Mounds of all records on one axis."""

    title: str
    ticks: tuple[Tick, ...]
    rows: tuple[SpreadRow, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Labels:
    """Words that the faces themselves put beside what they draw."""

    change: str
    common: str
    verdict: str
    place: str
    order: str
    step: str
    accepted: str
    sold: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Comparison:
    """Records side by side, in the order given."""

    language: str
    direction: str
    title: str
    brand: Brand
    started: str
    banners: tuple[str, ...]
    common: tuple[Pair, ...]
    columns: tuple[Column, ...]
    place_change: Change
    step_change: Change
    verdict_change: Change
    about: tuple[TextRow, ...]
    rates_title: str
    rates: tuple[FigureRow, ...]
    spreads: SpreadRows | None
    figures_title: str
    figures: tuple[FigureRow, ...]
    figures_more: str
    facts_title: str
    facts: tuple[TextRow, ...]
    note: str
    marks: str
    cautions: Listing
    how: str
    labels: Labels
