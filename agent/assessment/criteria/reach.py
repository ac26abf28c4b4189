"""Is the world reached: the path to the server, names."""

from __future__ import annotations

from dataclasses import replace

from agent.assessment.case import Case
from agent.assessment.decide import Promise, Reading, judged, unjudged
from agent.assessment.evidence import Item
from agent.assessment.model import Criterion, Sense, Verdict
from agent.measurements import DnsStatistics, Kind, Reason, Role, Scalar
from agent.settings.model import Limit
from agent.stats.proportions import wilson
from agent.stats.quantiles import count_for_percentile

_LEAST_FOR_P95 = count_for_percentile(0.95)


def path_criteria(case: Case) -> tuple[Criterion, ...]:
    """Return whether the walk arrived; a filtered walk to a reached server is no fault."""
    promise = Promise(
        name="path-reached",
        sense=Sense.AT_LEAST,
        unit="count",
        limit=1,
        source="built in",
        needed=Kind.PATH in case.plan.steps,
    )
    item = case.evidence.first(Kind.PATH, Role.SERVER)
    if item is None or item.path is None:
        return (unjudged(promise, case.missing(item, Kind.PATH)),)
    if item.path.reached:
        return (judged(promise, Reading.count(1), (item.id,), case.rule),)
    values: dict[str, Scalar] = {
        "stopped_at": item.path.stopped_at,
        "stop_code": item.path.stop_code,
    }
    passes = case.evidence.server_reached()
    reason = Reason(code="path-filtered" if passes else "nothing-beyond", values=values)
    return (unjudged(replace(promise, needed=promise.needed and not passes), reason, (item.id,)),)


def dns_criteria(case: Case) -> tuple[Criterion, ...]:
    """Return the criteria of each resolver; only the best one is needed."""
    measured = list(case.evidence.resolvers())
    if not measured:
        missing = case.missing(case.evidence.first(Kind.DNS), Kind.DNS)
        return tuple(unjudged(p, missing) for p, _ in _dns_promises(case, needed=True))
    best = best_resolver(measured)
    return tuple(
        _dns_criterion(case, promise, limit, item)
        for item in measured
        for promise, limit in _dns_promises(case, needed=item is best)
    )


def best_resolver(items: list[Item]) -> Item:
    """Return the resolver that answers most; of equals the fastest."""

    def rank(item: Item) -> tuple[float, float]:
        found = item.dns
        if found is None or not found.sent:
            return (1.0, float("inf"))
        slow = float("inf") if found.median_ms is None else found.median_ms
        return (1 - found.answered / found.sent, slow)

    return min(items, key=rank)


def _dns_promises(case: Case, *, needed: bool) -> tuple[tuple[Promise, Limit], ...]:
    limits = case.limits
    provable = case.plan.dns.queries >= _LEAST_FOR_P95
    wanted = (
        ("dns-unanswered", limits.dns_unanswered),
        ("dns-median", limits.dns_median),
        ("dns-p95", limits.dns_p95 if provable else None),
    )
    found = ((Promise.of(n, Sense.AT_MOST, li), li) for n, li in wanted if li is not None)
    return tuple((replace(p, needed=p.needed and needed), li) for p, li in found)


def _dns_criterion(case: Case, promise: Promise, limit: Limit, item: Item) -> Criterion:
    found = item.dns
    assert found is not None
    if promise.name == "dns-unanswered":
        return _unanswered(case, promise, limit, item, found)
    value = found.median_ms if promise.name == "dns-median" else found.p95_ms
    if value is None:
        return _slower_than_any(promise, item, found)
    median = promise.name == "dns-median"
    reading = Reading(
        measured=value,
        low=found.median_low_ms if median else None,
        high=found.median_high_ms if median else None,
    )
    return judged(promise, reading, (item.id,), case.rule)


def _unanswered(
    case: Case, promise: Promise, limit: Limit, item: Item, found: DnsStatistics
) -> Criterion:
    missed = found.sent - found.answered
    if not found.answered and not case.evidence.beyond_by_address():
        return unjudged(promise, Reason(code="nothing-beyond"), (item.id,))
    judgement = judged(promise, _missed(missed, found.sent, limit), (item.id,), case.rule)
    return case.proven(judgement, item, Kind.DNS)


def _missed(missed: int, sent: int, limit: Limit) -> Reading:
    if limit.unit == "count":
        return Reading.count(missed)
    low, high = wilson(missed, sent) or (None, None)
    return Reading(measured=missed / sent, low=low, high=high, confidence=0.95)


def _slower_than_any(promise: Promise, item: Item, found: DnsStatistics) -> Criterion:
    """A quantile that unanswered queries made infinite is missed, silence is not judged."""
    missed = found.sent - found.answered
    if not found.answered:
        values: dict[str, Scalar] = {"role": Role.RESOLVER.value, "sent": found.sent}
        return unjudged(promise, Reason(code="silent", values=values), (item.id,))
    if promise.name == "dns-p95" and found.sent < _LEAST_FOR_P95:
        few = {"sent": found.sent, "needed": _LEAST_FOR_P95}
        return unjudged(promise, Reason(code="too-few-probes", values=few), (item.id,))
    percent = 50 if promise.name == "dns-median" else 95
    reason = Reason(code="not-reached", values={"percent": percent, "lost": missed})
    return unjudged(promise, reason, (item.id,), Verdict.BELOW)
