"""Is the web reached, judged on several independent sites, and how long a page takes."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from urllib.parse import urlsplit

from agent.assessment.case import Case
from agent.assessment.decide import Promise, Reading, judged, unjudged
from agent.assessment.evidence import Item
from agent.assessment.model import Criterion, Sense, Verdict
from agent.measurements import Kind, Reason, State, WebFetch
from agent.stats.quantiles import median

_LEAST_TARGETS = 2
_FAR_FAULTS = (
    "name-not-resolved",
    "refused",
    "timed-out",
    "closed-early",
    "bad-reply",
    "tls-fault",
)
"""Reasons that lie beyond this laptop, so that the attempt says something about reach."""

_DATED = ("expired", "not-yet-valid")
"""What a certificate of the right name and issuer can still have against it: the site itself is
there, only its dates or this laptop's clock are wrong."""


def web_criteria(case: Case) -> tuple[Criterion, ...]:
    """Return whether outside pages arrive, and how long they take."""
    return (*_reached(case), *_total(case))


def _reached(case: Case) -> tuple[Criterion, ...]:
    """Return how many of several independent sites were reached; one dead site fails no line.

    Pages of one host stand or fall together, so they count as one site.
    """
    limit = case.limits.web_reached
    items = [i for i in case.evidence.select(Kind.HTTP) if _tried(i)]
    if limit is None or (not items and not case.settings.targets.web):
        return ()
    promise = Promise.of("web-reached", Sense.AT_LEAST, limit)
    if not items:
        return (unjudged(promise, case.missing(case.evidence.first(Kind.HTTP), Kind.HTTP)),)
    sites: dict[str, bool] = {}
    for item in items:
        site = _site(item)
        sites[site] = sites.get(site, False) or _is_there(item)
    reached = sum(sites.values())
    share = reached / len(sites) if limit.unit == "ratio" else reached
    ids = tuple(i.id for i in items)
    found = judged(promise, Reading.count(share), ids, case.rule)
    if found.outcome is not Verdict.BELOW:
        return (found,)
    return (_missed(case, found, items, reached, len(sites)),)


def _total(case: Case) -> tuple[Criterion, ...]:
    """Return how long a page takes from start to end: the median over the sites that answer."""
    limit = case.limits.web_total
    pages = [(i, i.http) for i in case.evidence.select(Kind.HTTP) if i.http and i.http.answered]
    came = [(i.id, h.total_ms) for i, h in pages if h.total_ms is not None]
    middle = median([total_ms for _, total_ms in came])
    if limit is None or middle is None:
        return ()
    promise = Promise.of("web-total", Sense.AT_MOST, limit)
    return (judged(promise, Reading(measured=middle), tuple(i for i, _ in came), case.rule),)


def _tried(item: Item) -> bool:
    """Tell whether a page was asked for; one that could not even be looked up was."""
    if item.http is not None:
        return item.http.sent > 0
    reason = item.measurement.reason
    failed = item.measurement.state is State.FAILED
    return failed and reason is not None and reason.code in _FAR_FAULTS


def _site(item: Item) -> str:
    """Return the host of a page; what was never observed stands for itself."""
    observed = item.measurement.observed
    host = urlsplit(observed.url).hostname if isinstance(observed, WebFetch) else None
    return host or item.id


def _is_there(item: Item) -> bool:
    return item.http is not None and (
        item.http.answered > 0 or item.http.certificate_fault in _DATED
    )


def _missed(
    case: Case, found: Criterion, items: Sequence[Item], reached: int, sites: int
) -> Criterion:
    """Tell a line that reaches nothing from a dead site and from faults judged elsewhere."""
    if reached and sites - reached <= 1:
        return replace(found, outcome=Verdict.MEETS)
    reason = _excuse(case, items, reached, sites)
    if reason is None:
        return found
    return replace(found, outcome=Verdict.NOT_PROVEN, reason=reason)


def _excuse(case: Case, items: Sequence[Item], reached: int, sites: int) -> Reason | None:
    if sites < _LEAST_TARGETS:
        return Reason(code="too-few-targets", values={"targets": sites})
    if _names_dead(case):
        return Reason(code="names-silent")
    stopped = [i.http for i in items if i.http is not None and i.http.intercepted]
    if stopped:
        portal = next((h.portal for h in stopped if h.portal), None)
        return Reason(code="intercepted", values={"pages": len(stopped), "portal": portal})
    if not reached and not case.evidence.beyond_by_address():
        return Reason(code="nothing-beyond")
    return None


def _names_dead(case: Case) -> bool:
    known = [i.dns for i in case.evidence.resolvers() if i.dns is not None]
    return bool(known) and not any(d.answered for d in known)
