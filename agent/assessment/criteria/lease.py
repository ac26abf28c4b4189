"""Is a usable address held."""

from __future__ import annotations

from agent.assessment.case import Case
from agent.assessment.decide import Promise, Reading, judged, unjudged
from agent.assessment.evidence import Item
from agent.assessment.model import Criterion, Sense
from agent.measurements import Kind, Reason
from agent.settings.model import Handover

PROMISE = Promise(
    name="lease",
    sense=Sense.AT_LEAST,
    unit="count",
    limit=1,
    source="built in",
    needed=True,
)


def lease_criteria(case: Case) -> tuple[Criterion, ...]:
    """Return the criterion of the address; one usable family is enough."""
    item = _best(case)
    if item is None or item.lease is None:
        return (unjudged(PROMISE, case.missing(item, Kind.LEASE)),)
    usable = item.lease.usable
    if not usable and case.circumstances.handover is Handover.PPPOE:
        return (unjudged(PROMISE, Reason(code="pppoe-no-session"), (item.id,)),)
    return (judged(PROMISE, Reading.count(int(usable)), (item.id,), case.rule),)


def _best(case: Case) -> Item | None:
    found = list(case.evidence.select(Kind.LEASE))
    usable = (i for i in found if i.lease is not None and i.lease.usable)
    return next(usable, case.evidence.first(Kind.LEASE))
