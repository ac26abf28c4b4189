"""A hop walk reduced: who answered at each distance, and where and why it stops."""

from __future__ import annotations

from dataclasses import replace

from agent.measurements import Hop, HopInterface, HopLabel, HopWalk, PathStatistics
from agent.stats.delay import round_trip
from agent.stats.path_answering import Tally, answering
from agent.stats.path_end import end_of
from agent.stats.path_flows import links_of, parallel_at
from agent.stats.path_mtu import mtu_statistics
from agent.stats.path_walk import answerers, attempts_at, flow_of


def path_statistics(walk: HopWalk) -> PathStatistics:
    """Return the hops up to the target, or to where the walk stops."""
    end = end_of(walk)
    distances = [d for d in sorted(set(walk.distance)) if d <= (end.distance or 0)]
    flows = 1 + max((flow_of(walk, i) for i in range(len(walk.distance))), default=0)
    hops = _with_words(walk, tuple(_hop(walk, d, flows) for d in distances))
    placed = {address for hop in hops for address in hop.addresses}
    reached = end.code is None
    mtu = mtu_statistics(walk.mtu, hops) if walk.mtu else None
    return PathStatistics(
        hops=hops,
        reached=reached,
        stopped_at=None if reached else end.distance,
        stop_code=end.code,
        path_mtu_bytes=mtu.path_mtu_bytes if mtu else walk.path_mtu_bytes,
        flows=flows,
        links=links_of(hops),
        parallel_at=parallel_at(hops),
        unplaced=tuple(address for address, _ in walk.unplaced if address not in placed),
        mtu=mtu,
    )


def _hop(walk: HopWalk, distance: int, flows: int) -> Hop:
    attempts = attempts_at(walk, distance)
    answered = [i for i in attempts if walk.answered_by[i] is not None]
    addresses = answerers(walk, attempts)
    known = dict(walk.names)
    trips = [t for i in answered if (t := walk.rtt_ms[i]) is not None]
    return Hop(
        distance=distance,
        sent=len(attempts),
        answered=len(answered),
        addresses=addresses,
        names=tuple(known[a] for a in addresses if a in known),
        rtt_ms=round_trip(trips),
        by_flow=tuple(_met(walk, attempts, flow) for flow in range(flows)),
        labels=_labels(walk, attempts),
        interfaces=_interfaces(walk, attempts),
    )


def _met(walk: HopWalk, attempts: list[int], flow: int) -> tuple[str, ...]:
    return answerers(walk, [i for i in attempts if flow_of(walk, i) == flow])


def _labels(walk: HopWalk, attempts: list[int]) -> tuple[HopLabel, ...]:
    found = (walk.extensions[i] for i in attempts if walk.extensions)
    return next((e.labels for e in found if e is not None and e.labels), ())


def _interfaces(walk: HopWalk, attempts: list[int]) -> tuple[HopInterface, ...]:
    found = (walk.extensions[i] for i in attempts if walk.extensions)
    return tuple(dict.fromkeys(i for e in found if e is not None for i in e.interfaces))


def _with_words(walk: HopWalk, hops: tuple[Hop, ...]) -> tuple[Hop, ...]:
    words = answering([_tally(walk, hop) for hop in hops])
    return tuple(replace(h, answering=w) for h, w in zip(hops, words, strict=True))


def _tally(walk: HopWalk, hop: Hop) -> Tally:
    """Return which attempts were answered; an answer that quoted little was one all the same."""
    short = sum(count for address, count in walk.unplaced if address in hop.addresses)
    answered = []
    for attempt in attempts_at(walk, hop.distance):
        placed = walk.answered_by[attempt] is not None
        short -= not placed
        answered.append(placed or short >= 0)
    return Tally(tuple(answered))
