"""Where a queue stands while the line is filled: the first far end whose delay rises with the load.

What holds a flow at its rate has a queue in front of it, and everything behind that queue is
reached later; what lies before it is reached as soon as on the idle line.
"""

from __future__ import annotations

from dataclasses import dataclass

from agent.assessment.evidence import Evidence, Item
from agent.measurements import Direction, Role

OUTWARDS = (Role.GATEWAY, Role.MODEM, Role.FIRST_HOP, Role.SERVER)

FELT_MS = 3.0
"""A median that rises by less may be the laptop's own doing (common practice, no source)."""

FLAT_MS = 1.0
"""A median that rises by less has met no queue at all (common practice, no source)."""

_STANDS_MS = 6.0
_ONE_SIDED = 0.25
_AT_RANDOM = 0.22
"""Between neighbours delays that are independent differ by about a third of their 95th percentile:
w/3 of 0.95 w where they are even over w, one mean of three where they are exponential."""

MOST_OF_IT = 0.5
"""Share of the rise towards the server from which on a nearer far end stands behind the queue."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Queue:
    """A queue by the first far end behind it and the last one before it, None where none was timed.

    `rise_ms` is what the load added to the median round trip to `behind`. `evidence` are the ids
    of the series that tell.
    """

    direction: Direction
    behind: Role
    before: Role | None
    rise_ms: float
    evidence: tuple[str, ...]


def queue_of(evidence: Evidence, direction: Direction) -> Queue | None:
    """Return the queue of a filled direction; None where delay rose nowhere, or nobody timed it."""
    far = risen_ms(evidence, Role.SERVER, direction)
    if far is None or far < FELT_MS:
        return None
    before: Role | None = None
    for role in OUTWARDS:
        rise = risen_ms(evidence, role, direction)
        if rise is None:
            continue
        if rise >= max(FELT_MS, MOST_OF_IT * far):
            return Queue(
                direction=direction,
                behind=role,
                before=before,
                rise_ms=rise,
                evidence=_ids(evidence, (before, role), direction),
            )
        before = role
    return None


def idle_queue_ms(evidence: Evidence, direction: Direction) -> float | None:
    """Return the depth of a queue that stands on the line while this laptop is silent, ms.

    None where there is none to speak of. It is one direction's alone, it drains from one probe to
    the next instead of changing at random, as grants of a shared medium do, and it is seen between
    the gateway and the first hop: so what fills it uses this very line.
    """
    far, first = evidence.idle_delay(Role.SERVER), evidence.idle_delay(Role.FIRST_HOP)
    if far is None or far.delay is None:
        return None
    ways = (far.delay.forward_variation, far.delay.backward_variation)
    own, other = ways if direction is Direction.UP else ways[::-1]
    if own is None or other is None:
        return None
    deep, step = own.pdv_p95_ms, own.ipdv_mean_size_ms
    if deep is None or step is None or deep < _STANDS_MS or step > _AT_RANDOM * deep:
        return None
    if (other.pdv_p95_ms or 0.0) > _ONE_SIDED * deep:
        return None
    near = spread_ms(evidence.idle_delay(Role.GATEWAY)) or 0.0
    seen = spread_ms(first)
    return (
        deep
        if seen is not None and seen >= MOST_OF_IT * deep and near < _ONE_SIDED * deep
        else None
    )


def spread_ms(item: Item | None) -> float | None:
    """Return the 95th percentile of a series above its least delay, ms (RFC 5481 §4.2)."""
    found = item.delay.rtt_ms if item is not None and item.delay is not None else None
    if found is None or found.p95 is None or found.min is None:
        return None
    return found.p95 - found.min


def risen_ms(evidence: Evidence, role: Role, direction: Direction) -> float | None:
    """Return what a load adds to the median round trip to a role, ms; None where it is unknown."""
    loaded, idle = (
        _median(evidence.loaded_delay(role, direction)),
        _median(evidence.idle_delay(role)),
    )
    return None if loaded is None or idle is None else loaded - idle


def _median(item: Item | None) -> float | None:
    return item.delay.rtt_ms.median if item is not None and item.delay is not None else None


def _ids(
    evidence: Evidence, roles: tuple[Role | None, ...], direction: Direction
) -> tuple[str, ...]:
    found = (evidence.loaded_delay(role, direction) for role in roles if role is not None)
    return tuple(item.id for item in found if item is not None)
