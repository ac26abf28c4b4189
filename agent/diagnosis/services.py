"""The line passes traffic, a service on it or beyond it does not work."""

from __future__ import annotations

from agent.assessment.criteria.loaded import RISES
from agent.assessment.model import Criterion, Verdict
from agent.assessment.queues import risen_ms
from agent.diagnosis.facts import Facts
from agent.diagnosis.model import Segment
from agent.diagnosis.rule import Match
from agent.measurements import Direction, Role, Scalar


def tunnel_on(facts: Facts) -> Match | None:
    """A tunnel carried the test."""
    fact = facts.fitness("tunnel")
    return None if fact is None else Match(values={"tunnel": fact.measured})


def another_line(facts: Facts) -> Match | None:
    """The test left over another line: by the laptop's own choice, or by who knows whose."""
    fact = facts.fitness("another_line")
    if fact is None:
        return None
    seen = facts.circumstances.seen_address
    place = None if fact.measured == seen else Segment.LAPTOP
    return Match(values={"egress": fact.measured, "seen_address": seen}, segment=place)


def server_silent(facts: Facts) -> Match | None:
    """The line passes traffic, the operator's server gives no transfer or no answer."""
    cause = facts.server_cause()
    if cause is not None:
        return Match(evidence=cause[1], values={"cause": cause[0]})
    if facts.silent(Role.SERVER) and not facts.evidence.server_reached():
        item = facts.series(Role.SERVER)
        return Match(evidence=(item.id,) if item else (), values={"cause": "silent"})
    return None


def delay_high(facts: Facts) -> Match | None:
    """A promised delay is missed; the nearest series that is slow names the place."""
    missed = [c for c in facts.missed("server-delay-median") if c.needed]
    if not missed:
        return None
    place, step = _slow_place(facts)
    values: dict[str, Scalar] = {
        "median_ms": missed[0].measured,
        "limit_ms": missed[0].limit,
        "arises": place.value,
    }
    ids = missed[0].measurements
    return Match(evidence=ids, values=values, segment=place, next_step=step)


def delay_rises(facts: Facts) -> Match | None:
    """Filling the line delays everything else on it; a fault only where it was promised not to."""
    risen = {d: c for d, name in RISES.items() for c in facts.criteria(name) if _rises(facts, d, c)}
    missed = tuple(risen.values())
    if not missed:
        return None
    values: dict[str, Scalar] = {"limit_ms": missed[0].limit}
    for direction, criterion in risen.items():
        rise = criterion.measured or risen_ms(facts.evidence, Role.SERVER, direction)
        values[f"{direction.value}_ms"] = rise
    ids = dict.fromkeys(i for c in missed for i in c.measurements)
    place = Segment.UNDETERMINED if any(c.needed for c in missed) else None
    return Match(evidence=tuple(ids), values=values, segment=place)


def _rises(facts: Facts, direction: Direction, criterion: Criterion) -> bool:
    """Tell whether a rise misses its limit: by its 95th percentile, or already by its median.

    Answers that come too late to count leave no 95th percentile, and are the longest of all.
    """
    if criterion.measured is not None or criterion.limit is None:
        return criterion.outcome is Verdict.BELOW
    median = risen_ms(facts.evidence, Role.SERVER, direction)
    return median is not None and median > criterion.limit


def _slow_place(facts: Facts) -> tuple[Segment, str]:
    near = facts.gateway_segment is not Segment.ACCESS
    if near and facts.missed("gateway-delay-median", "gateway-delay-p95"):
        return facts.near_segment(), "change-cord-or-port"
    if facts.missed("first-hop-delay-median"):
        return Segment.ACCESS, "read-levels"
    first = facts.series(Role.FIRST_HOP if near else Role.GATEWAY)
    if facts.criteria("first-hop-delay-median") and first is not None:
        return Segment.OPERATOR, "refer-to-operator"
    return Segment.UNDETERMINED, "refer-to-operator"
