"""What stands on the sheet: words and positions, ready for any face; nothing left to compute."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum


class Mark(StrEnum):
    """The shapes that carry a state; each face draws them, and prints the word beside."""

    KEPT = "kept"
    MISSED = "missed"
    OPEN = "open"


class Ground(StrEnum):
    """How a segment of the strip is filled."""

    CLEAR = "clear"
    LIKELY = "likely"
    POSSIBLE = "possible"
    UNFIT = "unfit"
    UNREACHED = "unreached"
    UNKNOWN = "unknown"
    ABSENT = "absent"


@dataclass(frozen=True, slots=True, kw_only=True)
class Pair:
    """A label and its value."""

    label: str
    value: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Headline:
    """The verdict in words, why, and what it rests on."""

    mark: Mark
    verdict: str
    reason: str
    beside: tuple[Pair, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Cell:
    """One segment of the strip, laptop first."""

    name: str
    ground: Ground
    state: str
    evidence: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Scale:
    """Positions on a bar from 0 to 1; None where there is no such mark."""

    value: float
    low: float | None
    high: float | None
    limit: float | None
    sold: float | None
    at_least: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class Bar:
    """One promise: what was measured against its limit.

    `sample` is what the number rests on, `aside` what a rate must not be read without.
    """

    label: str
    value: str
    interval: str
    limit: str
    sold: str
    sample: str
    mark: Mark
    outcome: str
    note: str
    scale: Scale | None
    aside: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Pairs:
    """A block of facts."""

    title: str
    pairs: tuple[Pair, ...]
    more: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Table:
    """A small table; numbers stand right in every column but the first."""

    title: str
    head: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    more: str = ""
    note: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Listing:
    """Sentences; `more` says how many stand only in the record."""

    title: str
    items: tuple[str, ...]
    more: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class NextStep:
    """What to do, what to mind while doing it, and what the customer is told."""

    title: str
    text: str
    caution: str = ""
    plain: Pair | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Proof:
    """How anyone can check the page against the record."""

    record_id: str
    sha256: str
    hash_short: str
    how: str
    code_text: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Sheet:
    """One page: the top third decides, the rest supports."""

    language: str
    title: str
    company: str
    dated: str
    started: str
    banners: tuple[str, ...]
    headline: Headline
    strip_title: str
    strip: tuple[Cell, ...]
    rates_title: str
    rates: tuple[Bar, ...]
    next_step: NextStep
    promises_title: str
    promises: tuple[Bar, ...]
    promises_more: str
    tables: tuple[Table, ...]
    side_tables: tuple[Table, ...]
    facts: tuple[Pairs, ...]
    listings: tuple[Listing, ...]
    cautions: Listing
    proof: Proof
