"""The rate is missed: by the line, by the port, or at a moment that cannot tell."""

from __future__ import annotations

from agent.assessment.model import Criterion
from agent.diagnosis.facts import Facts
from agent.diagnosis.loss import server_loses
from agent.diagnosis.model import Segment
from agent.diagnosis.rule import Match
from agent.measurements import Kind, Scalar

_RATES = ("throughput-down", "throughput-up")
_EXPLAINED = 0.5
"""Confidence in a slow line beside another fault that slows TCP."""

_PLACES = {
    "wireless": (Segment.HOME, "plug-in-cable"),
    "half_duplex": (Segment.HOME, "check-auto-negotiation"),
    "processor_busy": (Segment.LAPTOP, "free-the-laptop"),
    "on_battery": (Segment.LAPTOP, "free-the-laptop"),
    "other_traffic": (Segment.LAPTOP, "stop-other-traffic"),
    "others_on": (Segment.UNDETERMINED, "stop-other-traffic"),
}


def slow_line(facts: Facts) -> Match | None:
    """Soundly below the tier while the way is whole."""
    missed = facts.missed(*_RATES)
    if not missed:
        return None
    values: dict[str, Scalar] = {}
    for criterion in missed:
        way = criterion.name.removeprefix("throughput-")
        values[f"{way}_bps"] = criterion.measured
        values[f"{way}_limit_bps"] = criterion.limit
    ids = tuple(i for c in missed for i in c.measurements)
    lossy = server_loses(facts)
    return Match(evidence=ids, values=values, confidence=_EXPLAINED if lossy else None)


def slow_not_attributable(facts: Facts) -> Match | None:
    """Below the tier, but this laptop or moment cannot say why."""
    for criterion in facts.criteria(*_RATES):
        fact = _blamed(criterion)
        if fact is not None:
            place, step = _PLACES.get(fact, (Segment.UNDETERMINED, "repeat-fit"))
            way = criterion.name.removeprefix("throughput-")
            values: dict[str, Scalar] = {"fact": fact, "direction": way}
            ids = criterion.measurements
            return Match(evidence=ids, values=values, segment=place, next_step=step)
    return None


def port_below_tier(facts: Facts) -> Match | None:
    """The port came up too slow for the tier, and slower than such ports come."""
    fact = facts.fitness("port_ceiling")
    if fact is None or any(c.limit_source == "port ceiling" for c in facts.criteria(*_RATES)):
        return None
    item = facts.evidence.first(Kind.LINK)
    link = item.link if item else None
    if item is None or link is None:
        return None
    values: dict[str, Scalar] = {
        "speed_bps": link.speed_bps,
        "ceiling_bps": fact.measured,
        "needed_bps": fact.threshold,
    }
    return Match(evidence=(item.id,), values=values)


def half_duplex(facts: Facts) -> Match | None:
    """The port came up in half duplex."""
    item = facts.evidence.first(Kind.LINK)
    link = item.link if item else None
    if item is None or link is None or link.duplex != "half":
        return None
    return Match(evidence=(item.id,), values={"duplex": "half"})


def _blamed(criterion: Criterion) -> str | None:
    """Return the fitness fact for which a missed rate was not counted."""
    reason = criterion.reason
    if reason is None:
        return None
    if reason.code in ("others-on", "others-on-unknown"):
        return "others_on"
    return str(reason.values.get("fact")) if reason.code == "unfit" else None
