"""The decision rule (JCGM 106): an interval against a limit."""

from __future__ import annotations

from dataclasses import dataclass

from agent.assessment.model import Criterion, Sense, Verdict
from agent.measurements import Reason
from agent.settings.model import Limit

DELAY, LOSS, REACH, THROUGHPUT, LEASE = "delay", "loss", "reach", "throughput", "lease"

_GROUPS = {
    "lease": LEASE,
    "path-reached": REACH,
    "dns-unanswered": REACH,
    "web-reached": REACH,
    "web-total": REACH,
    "gateway-loss": LOSS,
    "server-loss": LOSS,
    "server-loss-up": LOSS,
    "server-loss-down": LOSS,
    "throughput-down": THROUGHPUT,
    "throughput-up": THROUGHPUT,
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Reading:
    """A figure with its interval; a count is its own interval."""

    measured: float
    low: float | None = None
    high: float | None = None
    confidence: float | None = None

    @classmethod
    def count(cls, value: float) -> Reading:
        """Return the reading of something counted, not sampled."""
        return cls(measured=value, low=value, high=value)


@dataclass(frozen=True, slots=True, kw_only=True)
class Promise:
    """What a reading is held against."""

    name: str
    sense: Sense
    unit: str
    limit: float
    source: str
    needed: bool

    @classmethod
    def of(cls, name: str, sense: Sense, limit: Limit) -> Promise:
        """Return the promise of a limit of the settings."""
        return cls(
            name=name,
            sense=sense,
            unit=limit.unit,
            limit=limit.value,
            source=limit.source,
            needed=limit.needed,
        )


def group(name: str) -> str:
    """Return the group of a criterion in the fitness table."""
    return _GROUPS.get(name, DELAY)


def decide(
    reading: Reading, limit: float, sense: Sense, rule: str
) -> tuple[Verdict, Reason | None]:
    """Return the outcome of a reading.

    `simple`: the estimate decides (JCGM 106 §8.2). `guarded`: the whole interval must lie on one
    side (§8.3.2, §8.3.3); else not proven.
    """
    if rule == "simple":
        return (Verdict.MEETS if kept(reading.measured, limit, sense) else Verdict.BELOW), None
    if reading.low is None or reading.high is None:
        return Verdict.NOT_PROVEN, Reason(code="no-interval")
    inside = [kept(bound, limit, sense) for bound in (reading.low, reading.high)]
    if all(inside):
        return Verdict.MEETS, None
    if not any(inside):
        return Verdict.BELOW, None
    return Verdict.NOT_PROVEN, Reason(code="within-interval")


def kept(value: float, limit: float, sense: Sense) -> bool:
    """Tell whether a value keeps a limit."""
    return value >= limit if sense is Sense.AT_LEAST else value <= limit


def judged(promise: Promise, reading: Reading, ids: tuple[str, ...], rule: str) -> Criterion:
    """Return the criterion of a reading."""
    outcome, reason = decide(reading, promise.limit, promise.sense, rule)
    distance = reading.measured - promise.limit
    return Criterion(
        name=promise.name,
        measurements=ids,
        needed=promise.needed,
        sense=promise.sense,
        unit=promise.unit,
        limit=promise.limit,
        limit_source=promise.source,
        outcome=outcome,
        measured=reading.measured,
        low=reading.low,
        high=reading.high,
        confidence=reading.confidence,
        margin=distance if promise.sense is Sense.AT_LEAST else -distance,
        reason=reason,
    )


def unjudged(
    promise: Promise,
    reason: Reason,
    ids: tuple[str, ...] = (),
    outcome: Verdict = Verdict.NOT_PROVEN,
) -> Criterion:
    """Return the criterion of a figure that does not exist."""
    return Criterion(
        name=promise.name,
        measurements=ids,
        needed=promise.needed,
        sense=promise.sense,
        unit=promise.unit,
        limit=promise.limit,
        limit_source=promise.source,
        outcome=outcome,
        reason=reason,
    )
