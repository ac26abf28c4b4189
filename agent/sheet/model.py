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
class Tick:
    """A mark of an axis: where it stands, from 0 to 1, and what it says."""

    at: float
    text: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Spread:
    """One distribution along a shared axis: heights from 0 to 1, marks, and the figures beside."""

    label: str
    heights: tuple[float, ...]
    median_at: float | None
    p95_at: float | None
    limit_at: float | None
    cells: tuple[str, ...]
    silent: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Spreads:
    """Distributions one under the other; `head` names the figures beside them.

    `marks` says what a page draws into them, `note` what is true on every face.
    """

    title: str
    head: tuple[str, ...]
    rows: tuple[Spread, ...]
    ticks: tuple[Tick, ...]
    note: str
    marks: str
    more: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Course:
    """One rate over time: heights from 0 to 1, the part that was counted, its mean, the limit."""

    label: str
    heights: tuple[float, ...]
    counted_from: float
    counted_to: float
    mean_at: float
    mean: str
    limit_at: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Courses:
    """Rates over one axis of time."""

    title: str
    rows: tuple[Course, ...]
    ticks: tuple[Tick, ...]
    note: str
    marks: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Brand:
    """Whose page it is; `logo` is a picture as a data URI, `logo_ratio` its width over height."""

    company: str = ""
    contact: str = ""
    footer: str = ""
    logo: str = ""
    logo_ratio: float = 1.0


@dataclass(frozen=True, slots=True, kw_only=True)
class SignOff:
    """What is filled in by hand: things to tick, and lines to sign with what may stand instead."""

    title: str
    ticks_title: str
    ticks: tuple[str, ...]
    lines: tuple[str, ...]
    instead: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Labels:
    """Words that the faces themselves put beside what they draw."""

    accepted: str
    sold: str
    record: str
    hash: str
    continued: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Detail:
    """The second sheet, for the engineer."""

    title: str
    spreads: Spreads | None
    tables: tuple[Table, ...]
    facts: tuple[Pairs, ...]
    listings: tuple[Listing, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Sheet:
    """One page: the top third decides, the rest supports; and a second one for who asks for it."""

    language: str
    direction: str
    title: str
    brand: Brand
    dated: str
    started: str
    banners: tuple[str, ...]
    headline: Headline
    strip_title: str
    strip: tuple[Cell, ...]
    rates_title: str
    rates: tuple[Bar, ...]
    next_step: NextStep
    spreads: Spreads | None
    courses: Courses | None
    promises_title: str
    promises: tuple[Bar, ...]
    promises_more: str
    listings: tuple[Listing, ...]
    facts: tuple[Pairs, ...]
    cautions: Listing
    sign_off: SignOff | None
    ticket: Pair
    proof: Proof
    labels: Labels
    detail: Detail
