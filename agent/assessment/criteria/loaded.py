"""What the agent's own load adds to the delay to the server: advice, unless it is promised."""

from __future__ import annotations

from agent.assessment.case import Case
from agent.assessment.decide import Promise, Reading, judged, unjudged
from agent.assessment.evidence import Item
from agent.assessment.model import Criterion, Sense
from agent.measurements import DelayStatistics, Direction, Kind, Reason, Role
from agent.stats.delay import rise_ms

RISES = {Direction.DOWN: "server-delay-rise-down", Direction.UP: "server-delay-rise-up"}


def rise_criteria(case: Case) -> tuple[Criterion, ...]:
    """Return the criterion of each direction whose loaded series was run, or is needed."""
    found = (_criterion(case, direction, name) for direction, name in RISES.items())
    return tuple(criterion for criterion in found if criterion is not None)


def loaded_series(case: Case, direction: Direction) -> Item | None:
    """Return the series to the server that ran while a direction was filled."""
    return case.evidence.loaded_delay(Role.SERVER, direction)


def _criterion(case: Case, direction: Direction, name: str) -> Criterion | None:
    limit = case.limits.server_delay_rise
    if limit is None:
        return None
    promise = Promise.of(name, Sense.AT_MOST, limit)
    item, idle = loaded_series(case, direction), case.evidence.idle_delay(Role.SERVER)
    if item is None or item.delay is None:
        missing = case.missing(None, Kind.DELAY)
        return unjudged(promise, missing) if promise.needed else None
    if idle is None or idle.delay is None:
        return unjudged(promise, case.missing(idle, Kind.DELAY), (item.id,))
    ids = (idle.id, item.id)
    reading = _reading(idle.delay, item.delay)
    if reading is None:
        return unjudged(promise, _without_number(item.delay), ids)
    return judged(promise, reading, ids, case.rule)


def _reading(idle: DelayStatistics, loaded: DelayStatistics) -> Reading | None:
    rise = rise_ms(idle, loaded)
    if rise is None:
        return None
    return Reading(
        measured=rise,
        low=_less(loaded.p95_low_ms, idle.median_high_ms),
        high=_less(loaded.p95_high_ms, idle.median_low_ms),
        confidence=loaded.confidence,
    )


def _less(value: float | None, base: float | None) -> float | None:
    return None if value is None or base is None else value - base


def _without_number(loaded: DelayStatistics) -> Reason:
    lost = loaded.sent - loaded.received
    return Reason(code="not-reached", values={"percent": 95, "lost": lost})
