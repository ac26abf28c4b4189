"""What differs between two judgements of the same promise, beyond what their intervals allow."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from agent.assessment.decide import kept
from agent.assessment.model import Criterion


@dataclass(frozen=True, slots=True, kw_only=True)
class Difference:
    """One figure that two visits measured apart; all values in `unit`, rates at `layer`."""

    name: str
    unit: str
    layer: str | None
    then: float
    then_low: float
    then_high: float
    now: float
    now_low: float
    now_high: float


def difference(first: Criterion | None, last: Criterion | None) -> str:
    """Return "higher", "lower", "same" or "open"; intervals that touch are no difference.

    A count has no interval, and a few more or fewer are chance: counts differ where one keeps its
    limit and the other does not.
    """
    if first is None or last is None or (first.unit, first.layer) != (last.unit, last.layer):
        return "open"
    ends = (first.low, first.high, last.low, last.high)
    if any(end is None for end in ends):
        return "open"
    low, high, later_low, later_high = (end for end in ends if end is not None)
    if first.unit == "count" and _keeps(first) == _keeps(last):
        return "same"
    if later_low > high:
        return "higher"
    return "lower" if later_high < low else "same"


def differences(before: Iterable[Criterion], after: Iterable[Criterion]) -> tuple[Difference, ...]:
    """Return the criteria of one name, unit and layer whose intervals do not touch.

    Of several criteria of a name the needed one is compared, else the first.
    """
    earlier = _by_name(before)
    found = (_apart(earlier.get(name), now) for name, now in _by_name(after).items())
    return tuple(one for one in found if one is not None)


def _by_name(criteria: Iterable[Criterion]) -> dict[str, Criterion]:
    chosen: dict[str, Criterion] = {}
    for one in criteria:
        if one.name not in chosen or (one.needed and not chosen[one.name].needed):
            chosen[one.name] = one
    return chosen


def _keeps(criterion: Criterion) -> bool | None:
    if criterion.measured is None or criterion.limit is None:
        return None
    return kept(criterion.measured, criterion.limit, criterion.sense)


def _apart(then: Criterion | None, now: Criterion) -> Difference | None:
    if then is None or difference(then, now) not in {"higher", "lower"}:
        return None
    values = (then.measured, then.low, then.high, now.measured, now.low, now.high)
    told = [value for value in values if value is not None]
    if len(told) < len(values):
        return None
    return Difference(
        name=now.name,
        unit=now.unit,
        layer=now.layer,
        then=told[0],
        then_low=told[1],
        then_high=told[2],
        now=told[3],
        now_low=told[4],
        now_high=told[5],
    )
