"""Goodput against the accepted rate of the tier, both at the TCP payload."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from agent.assessment.case import Case
from agent.assessment.decide import Promise, Reading, judged, unjudged
from agent.assessment.evidence import Item
from agent.assessment.limiter import HOLDS_BACK
from agent.assessment.model import Criterion, FitnessFact, Limiter, Sense, Verdict
from agent.assessment.target import Target, target_of
from agent.measurements import Direction, Kind, Reason, Scalar, ThroughputStatistics

_APART = 0.05
"""Two measurements agree where their intervals overlap, or lie no further apart than this share of
the larger: lines vary by more than an interval is wide (common practice, no source)."""

SINGLE = "single-measurement"
GUARDED = "guarded"


def throughput_criteria(case: Case, limiters: Sequence[Limiter] = ()) -> tuple[Criterion, ...]:
    """Return the criteria of both directions; `limiters` say who limited which measurement."""
    return tuple(_criterion(case, way, limiters) for way in (Direction.DOWN, Direction.UP))


def port_facts(case: Case) -> tuple[FitnessFact, ...]:
    """Return the fact that the port cannot carry the tier, once, where it is so."""
    for direction in (Direction.DOWN, Direction.UP):
        target = target_of(case, _best(case, direction), direction)
        if target is not None and not target.port_fits:
            return (
                FitnessFact(
                    name="port_ceiling",
                    voids=tuple(case.settings.fitness.port_ceiling.voids),
                    measured=target.ceiling_bps,
                    threshold=target.limit_bps,
                    unit="bps",
                ),
            )
    return ()


def _criterion(case: Case, direction: Direction, limiters: Sequence[Limiter]) -> Criterion:
    item = _best(case, direction)
    target = target_of(case, item, direction)
    if target is None:
        return _without_tier(case, item, direction)
    promise = _promise(case, target, direction)
    if item is None or item.throughput is None or item.throughput.goodput_bps is None:
        return _rated(unjudged(promise, case.missing(item, Kind.THROUGHPUT)), target)
    found = judged(promise, _reading(item.throughput), _ids(case, direction), case.rule)
    return _rated(_sound(case, found, item, target, limiters), target)


def _best(case: Case, direction: Direction) -> Item | None:
    """Return the best transfer of a direction: what a line has shown, it can do.

    One that was cut short counts only where no other was made.
    """
    found = list(case.evidence.select(Kind.THROUGHPUT, direction=direction))
    return max(found, key=lambda item: (_has_figure(item), _rate(item)), default=None)


def _has_figure(item: Item) -> bool:
    return not item.partial and _rate(item) >= 0


def _rate(item: Item) -> float:
    measured = item.throughput.goodput_bps if item.throughput else None
    return -1.0 if measured is None else measured


def _ids(case: Case, direction: Direction) -> tuple[str, ...]:
    return tuple(i.id for i in case.evidence.select(Kind.THROUGHPUT, direction=direction))


def _reading(found: ThroughputStatistics) -> Reading:
    return Reading(
        measured=found.goodput_bps or 0.0,
        low=found.low_bps,
        high=found.high_bps,
        confidence=found.confidence,
    )


def _without_tier(case: Case, item: Item | None, direction: Direction) -> Criterion:
    found = item.throughput if item else None
    return Criterion(
        name=f"throughput-{direction.value}",
        measurements=_ids(case, direction),
        needed=True,
        sense=Sense.AT_LEAST,
        unit="bps",
        layer="payload",
        limit=None,
        limit_source="no tier",
        outcome=Verdict.NOT_PROVEN,
        measured=found.goodput_bps if found else None,
        low=found.low_bps if found else None,
        high=found.high_bps if found else None,
        confidence=found.confidence if found else None,
        reason=Reason(code="no-tier"),
    )


def _promise(case: Case, target: Target, direction: Direction) -> Promise:
    """Return the accepted rate, or the port's own where it is the smaller one."""
    port = not target.port_fits and target.port_is_full_size and target.ceiling_bps is not None
    shown = target.ceiling_bps * target.port_share if port and target.ceiling_bps else None
    own = case.tier is not None and case.tier.accept is not None
    source = "tier" if own else "settings accept"
    return Promise(
        name=f"throughput-{direction.value}",
        sense=Sense.AT_LEAST,
        unit="bps",
        limit=target.limit_bps if shown is None else shown,
        source="port ceiling" if port else source,
        needed=True,
    )


def _rated(found: Criterion, target: Target) -> Criterion:
    least = found.limit_source == "port ceiling" and found.outcome is Verdict.MEETS
    return replace(found, layer="payload", converted=target.converted, at_least=least)


def _sound(
    case: Case, found: Criterion, item: Item, target: Target, limiters: Sequence[Limiter]
) -> Criterion:
    """Take back what this measurement cannot support."""
    if item.partial:
        return _not_proven(found, case.missing(item, Kind.THROUGHPUT))
    if found.outcome is Verdict.MEETS:
        return _despite_others(case, found, item)
    if found.outcome is not Verdict.BELOW:
        return found
    reason = _why_not(case, item, target, limiters)
    return _confirmed(case, found, item, limiters) if reason is None else _not_proven(found, reason)


def _why_not(case: Case, item: Item, target: Target, limiters: Sequence[Limiter]) -> Reason | None:
    """Return why a missed rate is not the line's."""
    if not target.port_fits and not target.port_is_full_size:
        values = {"speed_bps": target.speed_bps, "ceiling_bps": target.ceiling_bps}
        return Reason(code="port-ceiling", values=values)
    blamed = _held_back(item, limiters)
    if blamed is not None:
        own: dict[str, Scalar] = {"by": blamed.limiter.value}
        return Reason(code="limited", values={**own, **blamed.values})
    stated = case.circumstances.nothing_else_on
    if stated is not True:
        return Reason(code="others-on" if stated is False else "others-on-unknown")
    return None


def _held_back(item: Item, limiters: Sequence[Limiter]) -> Limiter | None:
    """Return what beside the line limited a measurement."""
    own = (one for one in limiters if one.measurement == item.id)
    return next((one for one in own if one.limiter in HOLDS_BACK), None)


def _confirmed(case: Case, found: Criterion, item: Item, limiters: Sequence[Limiter]) -> Criterion:
    """Hold a missed rate against a second measurement, which the line must have limited too."""
    others = [
        other
        for other in case.evidence.select(Kind.THROUGHPUT, direction=item.measurement.direction)
        if other is not item and _has_figure(other) and _held_back(other, limiters) is None
    ]
    if not others:
        return replace(found, reason=Reason(code=SINGLE))
    if any(agree(item, other) for other in others):
        return found
    return _not_proven(found, _disagreement((item, *others)))


def _despite_others(case: Case, found: Criterion, item: Item) -> Criterion:
    """Say that another measurement missed; under the guarded rule the two prove nothing."""
    others = case.evidence.select(Kind.THROUGHPUT, direction=item.measurement.direction)
    missed = [
        other
        for other in others
        if _has_figure(other) and not agree(item, other) and _rate(other) < (found.limit or 0.0)
    ]
    if not missed:
        return found
    reason = _disagreement((item, *missed))
    return _not_proven(found, reason) if case.rule == GUARDED else replace(found, reason=reason)


def _disagreement(items: Sequence[Item]) -> Reason:
    rates = [_rate(one) for one in items]
    values: dict[str, Scalar] = {"highest_bps": max(rates), "lowest_bps": min(rates)}
    return Reason(code="measurements-disagree", values=values)


def agree(one: Item, other: Item) -> bool:
    """Tell whether two transfers of one direction show the same rate."""
    (low, high), (other_low, other_high) = _interval(one), _interval(other)
    gap = max(low, other_low) - min(high, other_high)
    return gap <= _APART * max(_rate(one), _rate(other))


def _interval(item: Item) -> tuple[float, float]:
    found, rate = item.throughput, _rate(item)
    if found is None or found.low_bps is None or found.high_bps is None:
        return rate, rate
    return found.low_bps, found.high_bps


def _not_proven(found: Criterion, reason: Reason) -> Criterion:
    return replace(found, outcome=Verdict.NOT_PROVEN, reason=reason)
