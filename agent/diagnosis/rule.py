"""One row of the rule table: what it says, and the pure function that tells whether it holds."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field

from agent.diagnosis.exclusions import Exclusion
from agent.diagnosis.facts import Facts
from agent.diagnosis.model import Finding, Segment
from agent.diagnosis.needs import Need, met
from agent.measurements import Scalar


@dataclass(frozen=True, slots=True, kw_only=True)
class Match:
    """What a rule found; `segment`, `confidence`, `next_step` overrule the row where given."""

    evidence: tuple[str, ...] = ()
    values: Mapping[str, Scalar] = field(default_factory=dict)
    segment: Segment | None = None
    confidence: float | None = None
    next_step: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Rule:
    """One finding: code, place, confidence, next step, and when it may be said.

    Every one of `needs` must be met and none of `ruled_out_by` may hold before `test` is asked;
    `hides` are the findings it explains, which `table.rivals` turns round.
    """

    code: str
    segment: Segment
    confidence: float
    next_step: str
    test: Callable[[Facts], Match | None]
    needs: tuple[Need, ...] = ()
    ruled_out_by: frozenset[Exclusion] = frozenset()
    hides: frozenset[str] = frozenset()

    def may_be_said(self, facts: Facts) -> bool:
        """Tell whether all that is needed is known, and nothing general rules it out."""
        known = all(met(need, facts) for need in self.needs)
        return known and not any(fact.holds(facts) for fact in self.ruled_out_by)

    def apply(self, facts: Facts) -> Finding | None:
        """Return the finding where it may be said and the rule holds."""
        match = self.test(facts) if self.may_be_said(facts) else None
        if match is None:
            return None
        return Finding(
            code=self.code,
            segment=match.segment or self.segment,
            confidence=self.confidence if match.confidence is None else match.confidence,
            next_step=match.next_step or self.next_step,
            evidence=match.evidence,
            values=dict(match.values),
        )
