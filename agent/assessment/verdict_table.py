"""The visit's verdict as a written table: the first row that holds decides.

The same table stands in README.md; a test compares the two.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from enum import StrEnum

from agent.assessment.fitness import NO_VERDICT
from agent.assessment.model import Criterion, FitnessFact, Verdict


class Condition(StrEnum):
    """What a row asks of a visit."""

    NOT_THIS_LINE = "another-line-or-tunnel"
    NO_TIER = "no-tier-given"
    NEEDED_BELOW = "a-needed-criterion-is-below"
    NEEDED_OPEN = "a-needed-criterion-is-not-proven"
    NOTHING_NEEDED = "no-needed-criterion-at-all"
    ALL_MEET = "every-needed-criterion-meets"


class Named(StrEnum):
    """Where the codes of what decided come from, if they are not one fixed code."""

    FACTS = "the-facts"
    CRITERIA = "the-criteria"
    NOTHING = "none"


@dataclass(frozen=True, slots=True)
class Row:
    """One row: a condition, the verdict under it, and the code or codes of what decided."""

    condition: Condition
    verdict: Verdict
    reason: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Standing:
    """What the table is read for."""

    criteria: Sequence[Criterion]
    facts: Sequence[FitnessFact]
    has_tier: bool

    def names(self, outcome: Verdict) -> tuple[str, ...]:
        """Return the needed criteria with that outcome, each once."""
        found = (c.name for c in self.criteria if c.needed and c.outcome is outcome)
        return tuple(dict.fromkeys(found))

    @property
    def barring(self) -> tuple[str, ...]:
        """Return the facts under which nothing is said of the line."""
        return tuple(f.name.replace("_", "-") for f in self.facts if f.name in NO_VERDICT)


VERDICTS: tuple[Row, ...] = (
    Row(Condition.NOT_THIS_LINE, Verdict.NOT_PROVEN, Named.FACTS),
    Row(Condition.NO_TIER, Verdict.NOT_PROVEN, "no-tier"),
    Row(Condition.NEEDED_BELOW, Verdict.BELOW, Named.CRITERIA),
    Row(Condition.NEEDED_OPEN, Verdict.NOT_PROVEN, Named.CRITERIA),
    Row(Condition.NOTHING_NEEDED, Verdict.NOT_PROVEN, "nothing-judged"),
    Row(Condition.ALL_MEET, Verdict.MEETS, Named.NOTHING),
)
"""In order; the last row holds for every visit that reaches it."""

_HOLDS: dict[Condition, Callable[[Standing], bool]] = {
    Condition.NOT_THIS_LINE: lambda s: bool(s.barring),
    Condition.NO_TIER: lambda s: not s.has_tier,
    Condition.NEEDED_BELOW: lambda s: bool(s.names(Verdict.BELOW)),
    Condition.NEEDED_OPEN: lambda s: bool(s.names(Verdict.NOT_PROVEN)),
    Condition.NOTHING_NEEDED: lambda s: not any(c.needed for c in s.criteria),
    Condition.ALL_MEET: lambda s: all(c.outcome is Verdict.MEETS for c in s.criteria if c.needed),
}


def row_of(standing: Standing) -> Row:
    """Return the first row that holds."""
    return next(row for row in VERDICTS if _HOLDS[row.condition](standing))


def deciding(row: Row, standing: Standing) -> tuple[str, ...]:
    """Return the codes of what decided: of facts, of criteria, or the row's own."""
    if row.reason == Named.FACTS:
        return standing.barring
    if row.reason == Named.CRITERIA:
        return standing.names(row.verdict)
    return () if row.reason == Named.NOTHING else (row.reason,)
