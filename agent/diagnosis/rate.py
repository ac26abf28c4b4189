"""The rate is missed: by the line, by the port, or at a moment that cannot tell."""

from __future__ import annotations

from dataclasses import replace

from agent.assessment.model import Criterion, Limiter, Limiting, Verdict
from agent.diagnosis.facts import Facts
from agent.diagnosis.loss import server_loses
from agent.diagnosis.model import Segment
from agent.diagnosis.rule import Match
from agent.measurements import Kind, Scalar

RATES_JUDGED = ("throughput-down", "throughput-up")
_EXPLAINED = 0.5
"""Confidence in a slow line beside another fault that slows TCP."""

_PLACES = {
    "wireless": (Segment.HOME, "plug-in-cable"),
    "half_duplex": (Segment.HOME, "check-auto-negotiation"),
    "processor_busy": (Segment.LAPTOP, "free-the-laptop"),
    "on_battery": (Segment.LAPTOP, "free-the-laptop"),
    "other_traffic": (Segment.LAPTOP, "stop-other-programs"),
    "power_saver": (Segment.LAPTOP, "switch-saver-off"),
    "memory_low": (Segment.LAPTOP, "free-memory"),
    "usb_bus": (Segment.LAPTOP, "change-adapter"),
    "laptop_check": (Segment.LAPTOP, "use-stronger-laptop"),
    "hidden_hop": (Segment.HOME, "plug-into-router"),
    "unverified_system": (Segment.LAPTOP, "use-tried-system"),
    "others_on": (Segment.UNDETERMINED, "stop-other-traffic"),
}


def slow_line(facts: Facts) -> Match | None:
    """Soundly below the tier while the way is whole."""
    missed = facts.missed(*RATES_JUDGED)
    if not missed:
        return None
    values: dict[str, Scalar] = {}
    for criterion in missed:
        way = criterion.name.removeprefix("throughput-")
        values[f"{way}_bps"] = criterion.measured
        values[f"{way}_limit_bps"] = criterion.limit
    ids = tuple(i for c in missed for i in c.measurements)
    doubtful = server_loses(facts) or _no_queue(facts, missed)
    return Match(evidence=ids, values=values, confidence=_EXPLAINED if doubtful else None)


def _no_queue(facts: Facts, missed: tuple[Criterion, ...]) -> bool:
    """Tell whether some missed rate has no queue on the line that would hold it there."""
    held = (limiter_of(facts, criterion, Limiting.LINE) for criterion in missed)
    return any(one is not None and one.confidence < _EXPLAINED for one in held)


def slow_not_attributable(facts: Facts) -> Match | None:
    """Below the tier, but this laptop or moment cannot say why."""
    for criterion in facts.criteria(*RATES_JUDGED):
        fact = _blamed(criterion)
        if fact is not None:
            place, step = _PLACES.get(fact, (Segment.UNDETERMINED, "repeat-fit"))
            way = criterion.name.removeprefix("throughput-")
            values: dict[str, Scalar] = {"fact": fact, "direction": way, **_reading(criterion)}
            ids = criterion.measurements
            return Match(evidence=ids, values=values, segment=place, next_step=step)
    return None


def rate_unsteady(facts: Facts) -> Match | None:
    """Two measurements of one direction are too far apart to stand for the line."""
    for criterion in facts.criteria(*RATES_JUDGED):
        reason = criterion.reason
        apart = reason is not None and reason.code == "measurements-disagree"
        if reason is not None and apart and criterion.outcome is Verdict.NOT_PROVEN:
            way: dict[str, Scalar] = {"direction": criterion.name.removeprefix("throughput-")}
            return Match(evidence=criterion.measurements, values={**way, **reason.values})
    return None


def laptop_limits(facts: Facts) -> Match | None:
    """This laptop could not keep up with the line."""
    return limited(facts, Limiting.LAPTOP)


def window_limits(facts: Facts) -> Match | None:
    """A TCP window too small for the round trip, this laptop's or the server's."""
    found = limited(facts, Limiting.WINDOW)
    if found is None or found.values.get("end") != "far":
        return found
    return replace(found, segment=Segment.OPERATOR, next_step="report-server")


def server_limits(facts: Facts) -> Match | None:
    """The server gave no more: too small for this line, or too busy now."""
    found = limited(facts, Limiting.SERVER)
    if found is None or found.values.get("why") != "capacity":
        return found
    return replace(found, next_step="use-larger-server")


def other_traffic_limits(facts: Facts) -> Match | None:
    """Other programs on this laptop used the line."""
    return limited(facts, Limiting.OTHER_TRAFFIC)


def limited(facts: Facts, limiter: Limiting) -> Match | None:
    """Return the missed rate that was not counted because something beside the line limited it."""
    for criterion in facts.criteria(*RATES_JUDGED):
        reason = criterion.reason
        if reason is None or reason.code != "limited" or reason.values.get("by") != limiter.value:
            continue
        own = limiter_of(facts, criterion, limiter)
        values: dict[str, Scalar] = {"direction": criterion.name.removeprefix("throughput-")}
        values |= {name: value for name, value in reason.values.items() if name != "by"}
        return Match(
            evidence=criterion.measurements,
            values=values,
            confidence=own.confidence if own else None,
        )
    return None


def limiter_of(facts: Facts, criterion: Criterion, limiter: Limiting) -> Limiter | None:
    """Return the transfer of a criterion that a limiter held, the first of several."""
    return next(
        (
            one
            for one in facts.assessment.limiters
            if one.limiter is limiter and one.measurement in criterion.measurements
        ),
        None,
    )


def port_below_tier(facts: Facts) -> Match | None:
    """The port came up too slow for the tier, and slower than such ports come."""
    fact = facts.fitness("port_ceiling")
    if fact is None or any(c.limit_source == "port ceiling" for c in facts.criteria(*RATES_JUDGED)):
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


def blamed(facts: Facts) -> str | None:
    """Return the fitness fact that `slow_not_attributable` names, if any."""
    named = (_blamed(criterion) for criterion in facts.criteria(*RATES_JUDGED))
    return next((name for name in named if name is not None), None)


def _reading(criterion: Criterion) -> dict[str, Scalar]:
    """Return what was read of the fact for which a missed rate was not counted, with its unit."""
    reason = criterion.reason
    if reason is None or reason.code != "unfit":
        stated = reason is not None and reason.code == "others-on"
        return {"measured": "yes" if stated else "unknown"}
    return {name: reason.values.get(name) for name in ("measured", "unit")}


def _blamed(criterion: Criterion) -> str | None:
    """Return the fitness fact for which a missed rate was not counted."""
    reason = criterion.reason
    if reason is None:
        return None
    if reason.code in ("others-on", "others-on-unknown"):
        return "others_on"
    return str(reason.values.get("fact")) if reason.code == "unfit" else None
