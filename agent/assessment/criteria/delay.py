"""Idle round-trip delay and its variation, near and far."""

from __future__ import annotations

from agent.assessment.case import Case
from agent.assessment.criteria.loss import silent_gateway
from agent.assessment.decide import Promise, Reading, judged, unjudged
from agent.assessment.evidence import Item
from agent.assessment.model import Criterion, Sense, Verdict
from agent.measurements import DelayStatistics, Kind, Reason, Role
from agent.settings.model import Limit
from agent.stats.quantiles import count_for_percentile

_LEAST_FOR_P95 = count_for_percentile(0.95)


def delay_criteria(case: Case) -> tuple[Criterion, ...]:
    """Return the criteria of delay that the settings or the tier limit.

    A gateway at the far end of the line is judged as the first hop that it is.
    """
    limits, far = case.limits, case.gateway_is_far
    wanted = (
        ("gateway-delay-median", Role.GATEWAY, None if far else limits.gateway_delay_median),
        ("gateway-delay-p95", Role.GATEWAY, None if far else limits.gateway_delay_p95),
        ("first-hop-delay-median", _first_hop(case, far=far), limits.first_hop_delay_median),
        ("server-delay-median", Role.SERVER, _server_limit(case)),
        ("server-delay-variation", Role.SERVER, limits.server_delay_variation),
    )
    return tuple(
        _criterion(case, Promise.of(name, Sense.AT_MOST, limit), role)
        for name, role, limit in wanted
        if limit is not None
    )


def _first_hop(case: Case, *, far: bool) -> Role:
    """Return whose series tells of the first hop: a silent gateway leaves it to the next."""
    item = case.evidence.idle_delay(Role.GATEWAY)
    answers = item is not None and item.delay is not None and bool(item.delay.received)
    return Role.GATEWAY if far and answers else Role.FIRST_HOP


def _server_limit(case: Case) -> Limit | None:
    """Return the tier's own promise of delay, else the limit of the technology."""
    if case.tier is None or case.tier.delay_ms is None:
        return case.limits.server_delay_median
    return Limit(value=case.tier.delay_ms, unit="ms", source="tier", reason="promised")


def _criterion(case: Case, promise: Promise, role: Role) -> Criterion:
    item = case.evidence.idle_delay(role)
    if item is None or item.delay is None or not item.delay.sent:
        return unjudged(promise, case.missing(item, Kind.DELAY))
    found = item.delay
    if not found.received:
        return _silent(case, promise, item, found)
    reading = _reading(promise.name, found)
    if reading is not None:
        return case.proven(judged(promise, reading, (item.id,), case.rule), item, Kind.DELAY)
    return _without_number(promise, item, found)


def _silent(case: Case, promise: Promise, item: Item, found: DelayStatistics) -> Criterion:
    role = item.measurement.role
    if role is Role.GATEWAY:
        return silent_gateway(case, promise, item, found)
    reason = Reason(code="silent", values={"role": role.value, "sent": found.sent})
    return unjudged(promise, reason, (item.id,))


def _reading(name: str, found: DelayStatistics) -> Reading | None:
    trips = found.rtt_ms
    if name.endswith("-median"):
        bounds = (found.median_low_ms, found.median_high_ms)
        return _with_bounds(trips.median, bounds, found.confidence)
    if name.endswith("-p95"):
        return _with_bounds(trips.p95, (found.p95_low_ms, found.p95_high_ms), found.confidence)
    low, high = (_above(b, trips.min) for b in (found.p95_low_ms, found.p95_high_ms))
    return _with_bounds(found.pdv_ms, (low, high), found.confidence)


def _with_bounds(
    measured: float | None, bounds: tuple[float | None, float | None], confidence: float
) -> Reading | None:
    if measured is None:
        return None
    return Reading(measured=measured, low=bounds[0], high=bounds[1], confidence=confidence)


def _above(value: float | None, least: float | None) -> float | None:
    return None if value is None or least is None else value - least


def _without_number(promise: Promise, item: Item, found: DelayStatistics) -> Criterion:
    """A quantile that loss made infinite is missed; one of too few probes proves nothing."""
    lost = found.sent - found.received
    if promise.name.endswith("-median") or found.sent >= _LEAST_FOR_P95:
        percent = 50 if promise.name.endswith("-median") else 95
        reason = Reason(code="not-reached", values={"percent": percent, "lost": lost})
        return unjudged(promise, reason, (item.id,), Verdict.BELOW)
    values = {"sent": found.sent, "needed": _LEAST_FOR_P95}
    return unjudged(promise, Reason(code="too-few-probes", values=values), (item.id,))
