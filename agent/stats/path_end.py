"""Where a walk ends, and why."""

from __future__ import annotations

from dataclasses import dataclass

from agent.measurements import HopWalk
from agent.stats.path_walk import answerers, arrived, attempts_at, flow_of, refusal

_COMES_BACK_AFTER = 2
"""Answers: the same address twice running is a router that counts twice, not yet a loop."""


@dataclass(frozen=True, slots=True, kw_only=True)
class End:
    """`distance` is the last hop to show, None where nothing answered; `code` None on arrival."""

    distance: int | None
    code: str | None


def end_of(walk: HopWalk) -> End:
    """Return the arrival of the first flow that arrived, else the stop.

    A stop is, in this order: a refusal ("net-unreachable", "prohibited" and so on), a "loop" (an
    address answers again further out), the "hop-limit" of the walk itself, or "silent".
    """
    reached = _arrival(walk)
    if reached is not None:
        return End(distance=reached, code=None)
    refused = [i for i, _ in enumerate(walk.distance) if refusal(walk, i)]
    if refused:
        first = min(refused, key=lambda i: walk.distance[i])
        return End(distance=_stands_at(walk, first), code=refusal(walk, first))
    closed = _loop(walk)
    if closed is not None:
        return End(distance=closed, code="loop")
    last = max((d for d, a in zip(walk.distance, walk.answered_by, strict=True) if a), default=None)
    code = "hop-limit" if last is not None and last == max(walk.distance) else "silent"
    return End(distance=last, code=code)


def _arrival(walk: HopWalk) -> int | None:
    found = [(flow_of(walk, i), d) for i, d in enumerate(walk.distance) if arrived(walk, i)]
    return min(found)[1] if found else None


def _stands_at(walk: HopWalk, attempt: int) -> int:
    """Return the distance of the router that refused an attempt.

    A router refuses what it should pass on, which has one hop more to go than what dies there.
    """
    near = walk.distance[attempt] - 1
    met = answerers(walk, attempts_at(walk, near))
    return near if walk.answered_by[attempt] in met else near + 1


def _loop(walk: HopWalk) -> int | None:
    """Return the distance at which the first flow comes back to where it ends up, None if never."""
    row = _first_flow(walk)
    if not row or _again(row, len(row) - 1) is None:
        return None
    return next(d for i, (d, _) in enumerate(row) if _again(row, i) is not None)


def _first_flow(walk: HopWalk) -> list[tuple[int, str]]:
    """Return distance and first address of each hop that answered the first flow."""
    row = []
    for distance in sorted(set(walk.distance)):
        own = [i for i in attempts_at(walk, distance) if flow_of(walk, i) == 0]
        row += [(distance, address) for address in answerers(walk, own)[:1]]
    return row


def _again(row: list[tuple[int, str]], place: int) -> int | None:
    """Return where the address at a place answered before, at least two answers nearer."""
    near = (i for i in range(place - _COMES_BACK_AFTER + 1) if row[i][1] == row[place][1])
    return next(near, None)
