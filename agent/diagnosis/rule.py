"""One row of the rule table: what it says, and the pure function that tells whether it holds."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field

from agent.diagnosis.facts import Facts
from agent.diagnosis.model import Finding, Segment
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
    """One finding: code, place, confidence, next step; `hides` are the findings it explains."""

    code: str
    segment: Segment
    confidence: float
    next_step: str
    test: Callable[[Facts], Match | None]
    hides: frozenset[str] = frozenset()

    def apply(self, facts: Facts) -> Finding | None:
        """Return the finding where the rule holds."""
        match = self.test(facts)
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
