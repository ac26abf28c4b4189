"""What several flows say about the way: links within one flow, and distances with several ways."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise

from agent.measurements import Hop, Link


def links_of(hops: Sequence[Hop]) -> tuple[Link, ...]:
    """Return the links that one flow shows between neighbouring distances.

    Two addresses are linked only if the same flow met each of them, and none but them, at two
    distances that follow each other. Where any flow met several addresses at one distance, the
    routers spread packets and not flows, or the way changed meanwhile: then no two answers are
    known to be of one way, and no link is drawn at all.
    """
    if any(len(met) > 1 for hop in hops for met in hop.by_flow):
        return ()
    return tuple(
        Link(flow=flow, distance=near.distance, near=a[0], far=b[0])
        for near, far in pairwise(hops)
        if far.distance == near.distance + 1
        for flow, (a, b) in enumerate(zip(near.by_flow, far.by_flow, strict=True))
        if a and b and a != b
    )


def parallel_at(hops: Sequence[Hop]) -> tuple[int, ...]:
    """Return the distances at which more than one address answered."""
    return tuple(hop.distance for hop in hops if len(hop.addresses) > 1)
