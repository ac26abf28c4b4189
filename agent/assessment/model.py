"""What was judged: one criterion per promise, and the verdict that follows from them."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from enum import StrEnum

from agent.measurements import Direction, Reason, Scalar


class Verdict(StrEnum):
    """Three-valued: missing or unsound data is never `meets`."""

    MEETS = "meets"
    BELOW = "below"
    NOT_PROVEN = "not-proven"


class Sense(StrEnum):
    """Whether the limit is a floor or a ceiling."""

    AT_LEAST = "at-least"
    AT_MOST = "at-most"


@dataclass(frozen=True, slots=True, kw_only=True)
class Criterion:
    """One promise held against its interval.

    `measured`, `low`, `high` and `limit` share `unit` (bps, ratio, ms, count) and, for rates,
    `layer`. `margin` is positive where the limit is kept, in `unit`. `converted` says how the
    limit came to this layer. `needed` criteria decide the verdict.
    """

    name: str
    measurements: tuple[str, ...]
    needed: bool
    sense: Sense
    unit: str
    limit: float | None
    limit_source: str
    outcome: Verdict
    layer: str | None = None
    measured: float | None = None
    low: float | None = None
    high: float | None = None
    confidence: float | None = None
    converted: str | None = None
    margin: float | None = None
    at_least: bool = False
    reason: Reason | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class FitnessFact:
    """A condition that makes this laptop or moment unfit, with what it voids.

    `phase` is when it was first seen, `phases` every one of "before", "during", "after" in which it
    was; the figures are those of the first.
    """

    name: str
    voids: tuple[str, ...]
    measured: float | str | None = None
    threshold: float | None = None
    unit: str = "none"
    phase: str = "before"
    phases: tuple[str, ...] = ()


class Limiting(StrEnum):
    """What held a transfer at the rate it had."""

    LINE = "line"
    LAPTOP = "laptop"
    PORT = "port"
    SERVER = "server"
    OTHER_TRAFFIC = "other-traffic"
    WINDOW = "window"
    HOME = "home"
    HOUSEHOLD = "household"
    NETWORK = "network"
    UNDETERMINED = "undetermined"


@dataclass(frozen=True, slots=True, kw_only=True)
class Limiter:
    """Who limited one transfer: derived, never observed; `measurement` is its id.

    `confidence` is the share of such judgements that should prove right, `values` the figures it
    rests on.
    """

    direction: Direction
    measurement: str
    limiter: Limiting
    confidence: float
    values: Mapping[str, Scalar] = field(default_factory=dict)


@dataclass(frozen=True, slots=True, kw_only=True)
class Assessment:
    """The verdict, the criteria it follows from, what was unfit, and who limited each rate."""

    verdict: Verdict
    criteria: tuple[Criterion, ...]
    fitness: tuple[FitnessFact, ...] = ()
    deciding: tuple[str, ...] = ()
    rule: str = "simple"
    limiters: tuple[Limiter, ...] = ()
