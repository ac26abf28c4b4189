"""Who holds a rate below the tier: the home, the network past the line, or another setting."""

from __future__ import annotations

from dataclasses import replace

from agent.assessment.model import Criterion, Limiting
from agent.assessment.profiles import Profile
from agent.assessment.queues import queue_of
from agent.diagnosis import needs
from agent.diagnosis.facts import Facts
from agent.diagnosis.loss import server_loses
from agent.diagnosis.model import Segment
from agent.diagnosis.rate import RATES_JUDGED, limited, limiter_of
from agent.diagnosis.rule import Match, Rule
from agent.measurements import Direction, Scalar

_BELOW, _ABOVE = 0.03, 0.01
"""How far a measured rate may lie below and above a provisioned one, as a share: shapers are set to
the percent, and a transfer repairs and shares some of it (common practice, no source)."""

_BOTH, _ONE = 0.9, 0.6


def held_in_home(facts: Facts) -> Match | None:
    """The wait begins before the modem: the router, its cable or its radio holds the rate."""
    found = limited(facts, Limiting.HOME)
    return None if found is None else _with_queue(facts, found)


def held_past_line(facts: Facts) -> Match | None:
    """Missed, while the line itself is not full: the wait begins past its far end."""
    for criterion in facts.missed(*RATES_JUDGED):
        own = limiter_of(facts, criterion, Limiting.NETWORK)
        if own is not None:
            values: dict[str, Scalar] = {
                "direction": own.direction.value,
                "measured_bps": criterion.measured,
                "limit_bps": criterion.limit,
            }
            return _with_queue(facts, Match(evidence=criterion.measurements, values=values))
    return None


def other_profile(facts: Facts) -> Match | None:
    """A steady rate that another product of the catalogue is provisioned at, with nothing lost.

    Every direction that was measured must sit on the product; of several the nearest is named.
    """
    missed = facts.missed(*RATES_JUDGED)
    if not missed or server_loses(facts) or held_past_line(facts) is not None:
        return None
    rates = [c for c in facts.criteria(*RATES_JUDGED) if c.measured is not None]
    others = (p for p in facts.profiles if not p.own and all(_sits(c, p) for c in rates))
    profile = min(others, key=lambda p: sum(_apart(c, p) for c in rates), default=None)
    if profile is None:
        return None
    values: dict[str, Scalar] = {"profile": profile.name}
    for criterion in facts.criteria(*RATES_JUDGED):
        values[f"{_way(criterion)}_bps"] = criterion.measured
    return Match(
        evidence=tuple(i for c in missed for i in c.measurements),
        values=values,
        confidence=_BOTH if len(rates) == len(RATES_JUDGED) else _ONE,
    )


def _sits(criterion: Criterion, profile: Profile) -> bool:
    rate, measured = _rate(criterion, profile), criterion.measured
    return measured is not None and (1 - _BELOW) * rate <= measured <= (1 + _ABOVE) * rate


def _apart(criterion: Criterion, profile: Profile) -> float:
    return abs((criterion.measured or 0.0) / _rate(criterion, profile) - 1)


def _rate(criterion: Criterion, profile: Profile) -> float:
    return profile.down_bps if _way(criterion) == Direction.DOWN.value else profile.up_bps


def _way(criterion: Criterion) -> str:
    return criterion.name.removeprefix("throughput-")


def _with_queue(facts: Facts, match: Match) -> Match:
    """Return a match that rests on the series of its direction too."""
    queue = queue_of(facts.evidence, Direction(str(match.values["direction"])))
    if queue is None:
        return match
    return replace(
        match,
        evidence=(*match.evidence, *queue.evidence),
        values={**match.values, "rise_ms": queue.rise_ms},
    )


_SLOW = frozenset({"slow-line", "slow-not-attributable"})

HELD_IN_HOME = Rule(
    code="held-in-home",
    segment=Segment.HOME,
    confidence=0.8,
    next_step="measure-at-modem",
    test=held_in_home,
    needs=(needs.RATE, needs.TO_SERVER),
    hides=_SLOW,
)
OTHER_PROFILE = Rule(
    code="other-profile",
    segment=Segment.OPERATOR,
    confidence=_BOTH,
    next_step="check-provisioning",
    test=other_profile,
    needs=(needs.RATE, needs.any_of(needs.Told.PROFILES)),
    hides=_SLOW,
)
HELD_PAST_LINE = Rule(
    code="held-past-line",
    segment=Segment.OPERATOR,
    confidence=0.8,
    next_step="refer-to-operator",
    test=held_past_line,
    needs=(needs.RATE, needs.TO_SERVER),
    hides=_SLOW,
)
RULES: tuple[Rule, ...] = (HELD_IN_HOME, OTHER_PROFILE, HELD_PAST_LINE)
