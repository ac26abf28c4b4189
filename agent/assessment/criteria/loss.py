"""Loss to the gateway and to the server, each direction where it is known."""

from __future__ import annotations

import math
from dataclasses import replace

from agent.assessment.case import Case
from agent.assessment.decide import Promise, Reading, judged, unjudged
from agent.assessment.evidence import Item
from agent.assessment.model import Criterion, Sense, Verdict
from agent.measurements import DelayStatistics, Kind, Reason, Role, Scalar
from agent.settings.model import Limit
from agent.stats.proportions import attempts_to_prove

_ENOUGH_OF_PLAN = 0.9
"""A counted limit is proven by the plan's own number of probes, bar a few that never left."""


def server_loss(case: Case) -> tuple[Criterion, ...]:
    """Return one criterion per direction, or one for the round trip where they are not known."""
    limit = _server_limit(case)
    if limit is None:
        return ()
    item = case.evidence.idle_delay(Role.SERVER)
    both = Promise.of("server-loss", Sense.AT_MOST, limit)
    if item is None or item.delay is None or not item.delay.sent:
        return (unjudged(both, case.missing(item, Kind.DELAY)),)
    found = item.delay
    if not found.received:
        return (unjudged(both, _silence(case, found), (item.id,)),)
    if found.forward_loss_ratio is None:
        whole = _ratio(both, item, _round_trip(found), found.sent, case.rule)
        return (case.proven(whole, item, Kind.DELAY),)
    up = Promise.of("server-loss-up", Sense.AT_MOST, limit)
    down = Promise.of("server-loss-down", Sense.AT_MOST, limit)
    ways = (
        _ratio(up, item, _forward(found), found.sent, case.rule),
        _ratio(down, item, _backward(found), found.backward_sent or 0, case.rule),
    )
    return tuple(case.proven(way, item, Kind.DELAY) for way in ways)


def gateway_loss(case: Case, server: tuple[Criterion, ...]) -> tuple[Criterion, ...]:
    """Return the criterion of the gateway, which loss through it must corroborate.

    A router may drop answers to itself and lose nothing that passes (RFC 1812 §4.3.2.8): its loss
    counts only where the series to the server misses its own limit too. A gateway at the far end
    of the line is no cable away, and has no criterion of its own.
    """
    limit = case.limits.gateway_loss
    if limit is None or case.gateway_is_far:
        return ()
    promise = Promise.of("gateway-loss", Sense.AT_MOST, limit)
    item = case.evidence.idle_delay(Role.GATEWAY)
    if item is None or item.delay is None or not item.delay.sent:
        return (unjudged(promise, case.missing(item, Kind.DELAY)),)
    if not item.delay.received:
        return (silent_gateway(case, promise, item, item.delay),)
    if item.delay.loss_ratio is None:
        limited: dict[str, Scalar] = {"role": Role.GATEWAY.value, "sent": item.delay.sent}
        return (unjudged(promise, Reason(code="answers-limited", values=limited), (item.id,)),)
    near = _near(promise, limit, item, item.delay, case)
    found = case.proven(near, item, Kind.DELAY)
    return (_corroborated(found, server, item.delay),)


def silent_gateway(case: Case, promise: Promise, item: Item, found: DelayStatistics) -> Criterion:
    """Return the criterion of a gateway that never answered: a fault only if nothing passes."""
    if case.evidence.beyond_by_address():
        reason = Reason(code="silent-but-passing", values={"role": Role.GATEWAY.value})
        return unjudged(replace(promise, needed=False), reason, (item.id,))
    values: dict[str, Scalar] = {"role": Role.GATEWAY.value, "sent": found.sent}
    return unjudged(promise, Reason(code="silent", values=values), (item.id,))


def _server_limit(case: Case) -> Limit | None:
    """Return the tier's own promise of loss, else the limit of the technology."""
    limit = case.limits.server_loss
    if case.tier is None or case.tier.loss_ratio is None:
        return limit
    return Limit(value=case.tier.loss_ratio, unit="ratio", source="tier", reason="promised")


def _silence(case: Case, found: DelayStatistics) -> Reason:
    """Silence is not loss: the service may be blocked, or nothing may pass at all."""
    if case.evidence.server_reached():
        return Reason(code="udp-silent", values={"sent": found.sent})
    return Reason(code="silent", values={"role": Role.SERVER.value, "sent": found.sent})


def _round_trip(found: DelayStatistics) -> Reading | None:
    return _reading(found.loss_ratio, found.loss_low, found.loss_high, found.confidence)


def _forward(found: DelayStatistics) -> Reading | None:
    bounds = (found.forward_low, found.forward_high)
    return _reading(found.forward_loss_ratio, *bounds, found.confidence)


def _backward(found: DelayStatistics) -> Reading | None:
    bounds = (found.backward_low, found.backward_high)
    return _reading(found.backward_loss_ratio, *bounds, found.confidence)


def _reading(
    measured: float | None, low: float | None, high: float | None, confidence: float
) -> Reading | None:
    if measured is None:
        return None
    return Reading(measured=measured, low=low, high=high, confidence=confidence)


def _ratio(
    promise: Promise, item: Item, reading: Reading | None, sent: int, rule: str
) -> Criterion:
    if reading is None:
        reason = Reason(code="silent", values={"role": Role.SERVER.value, "sent": sent})
        return unjudged(promise, reason, (item.id,))
    found = judged(promise, reading, (item.id,), rule)
    return _enough(found, sent, attempts_to_prove(promise.limit))


def _near(
    promise: Promise, limit: Limit, item: Item, found: DelayStatistics, case: Case
) -> Criterion:
    if limit.unit == "ratio":
        return _ratio(promise, item, _round_trip(found), found.sent, case.rule)
    lost = Reading.count(found.sent - found.received)
    planned = math.ceil(case.plan.near_echo.count * _ENOUGH_OF_PLAN)
    return _enough(judged(promise, lost, (item.id,), case.rule), found.sent, planned)


def _enough(found: Criterion, sent: int, needed: int) -> Criterion:
    """Too few probes prove no absence of loss, whatever they show."""
    if found.outcome is not Verdict.MEETS or sent >= needed:
        return found
    reason = Reason(code="too-few-probes", values={"sent": sent, "needed": needed})
    return replace(found, outcome=Verdict.NOT_PROVEN, reason=reason)


def _corroborated(
    found: Criterion, server: tuple[Criterion, ...], series: DelayStatistics
) -> Criterion:
    if found.outcome is not Verdict.BELOW or any(c.outcome is Verdict.BELOW for c in server):
        return found
    passes = bool(server) and all(c.outcome is Verdict.MEETS for c in server)
    values = {"lost": series.sent - series.received, "sent": series.sent}
    return replace(
        found,
        outcome=Verdict.NOT_PROVEN,
        needed=found.needed and not passes,
        reason=Reason(code="uncorroborated", values=values),
    )
