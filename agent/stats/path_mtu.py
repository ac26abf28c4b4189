"""A path MTU search reduced: what passes each way, how the limit shows, what TCP makes of it."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Sequence
from dataclasses import dataclass

from agent.measurements import Hop, MtuSearch, MtuStatistics, SizeOutcome

IP_HEADER_BYTES = {4: 20, 6: 40}
"""Without options (RFC 791 §3.1, RFC 8200 §3)."""

TCP_HEADER_BYTES = 20
"""Without options (RFC 9293 §3.1); an MSS leaves out both headers at that length (RFC 6691 §2)."""


@dataclass(frozen=True, slots=True)
class _Limit:
    """The largest size that passes one way, and the smallest above it that does not."""

    passes: int | None
    below: int | None


def mtu_statistics(search: MtuSearch, hops: Sequence[Hop]) -> MtuStatistics:
    """Return the path MTU of a search; `hops` are those of the walk beside it."""
    whole = [i for i, distance in enumerate(search.distance) if distance is None]
    returned = {i for i in whole if search.outcome[i] is SizeOutcome.ANSWERED}
    arrived = returned | {i for i in whole if search.far_received[i]}
    up, down = _limit(search, whole, arrived), _limit(search, whole, returned)
    mtu = down.passes
    decisive = [i for i in whole if search.size_bytes[i] == up.below]
    how = _how(search, up, decisive)
    named = [i for i in whole if how == "named" and _refuses(search, i, up.below)]
    after, before = _vanishing(search, hops) if how == "silent" else (None, None)
    return MtuStatistics(
        path_mtu_bytes=mtu,
        largest_tried_bytes=max((search.size_bytes[i] for i in whole), default=None),
        up_bytes=up.passes,
        up_below_bytes=up.below,
        up_limit=how,
        down_bytes=down.passes,
        down_below_bytes=_not_back(search, arrived, down),
        limited_by=next((search.refused_by[i] for i in named), None),
        named_bytes=next((n for i in named if (n := search.named_bytes[i])), None),
        vanish_after=after,
        vanish_before=before,
        tcp_mss_bytes=announced_mss(search),
        tcp_held_down=_held_down(search, mtu),
        duration_s=search.duration_s,
        packets=len(search.size_bytes),
        not_measured=search.not_measured or (None if mtu else "silent"),
    )


def announced_mss(search: MtuSearch) -> int | None:
    """Return the MSS in the far end's SYN as it arrived, None where it cannot be told.

    A sender's segments, options added, are the smaller of what was announced and what its kernel
    holds the path to carry (RFC 9293 §3.7.1). Where it has learnt that the path carries less than
    the port and segments are just as large, the SYN may have announced more.
    """
    tcp = search.tcp
    if tcp is None:
        return None
    segment, held = tcp.send_mss_bytes + tcp.option_bytes, tcp.path_mtu_bytes
    left = (
        size
        for size, outcome in zip(search.size_bytes, search.outcome, strict=True)
        if outcome is not SizeOutcome.HELD_BACK
    )
    learnt = held is not None and held < max(left, default=0)
    hidden = learnt and held is not None and segment == _segment(held, _family(search))
    return None if hidden else segment


def _limit(search: MtuSearch, whole: Sequence[int], passed: Collection[int]) -> _Limit:
    passes = max((search.size_bytes[i] for i in passed), default=None)
    told = (search.size_bytes[i] for i in whole if search.outcome[i] is not SizeOutcome.OPEN)
    above = (size for size in told if size > (passes or 0))
    return _Limit(passes, None if passes is None else min(above, default=None))


def _how(search: MtuSearch, up: _Limit, decisive: Sequence[int]) -> str | None:
    """Return how the limit upwards shows; a larger packet's refusal that names it counts too."""
    if up.passes is None:
        return None
    if up.below is None:
        return "none"
    outcomes = {search.outcome[i] for i in decisive}
    if SizeOutcome.HELD_BACK in outcomes:
        return "port"
    refused = any(_refuses(search, i, up.below) for i in range(len(search.outcome)))
    return "named" if refused else "silent"


def _refuses(search: MtuSearch, index: int, below: int | None) -> bool:
    """Tell whether a router's refusal explains that a size does not pass."""
    if search.outcome[index] is not SizeOutcome.REFUSED or below is None:
        return False
    named = search.named_bytes[index]
    return search.size_bytes[index] == below or (named is not None and named < below)


def _not_back(search: MtuSearch, arrived: Collection[int], down: _Limit) -> int | None:
    """Return the smallest size whose answers do not come although it arrived, more than once."""
    counts: dict[int, int] = {}
    for i in arrived:
        size = search.size_bytes[i]
        if down.passes is not None and size > down.passes:
            counts[size] = counts.get(size, 0) + 1
    return min((size for size, count in counts.items() if count > 1), default=None)


def _vanishing(search: MtuSearch, hops: Sequence[Hop]) -> tuple[str | None, str | None]:
    """Return the last router that took a packet that vanishes, and the next one known."""
    passed = {
        distance: search.answered_by[i]
        for i, distance in enumerate(search.distance)
        if distance is not None and search.outcome[i] is SizeOutcome.PASSED
    }
    last = max(passed, default=0)
    after = passed.get(last)
    return after, next(_beyond(hops, last), None)


def _beyond(hops: Sequence[Hop], distance: int) -> Iterator[str]:
    return (hop.addresses[0] for hop in hops if hop.distance > distance and hop.addresses)


def _held_down(search: MtuSearch, mtu: int | None) -> bool | None:
    announced = announced_mss(search)
    if mtu is None or announced is None:
        return None
    return announced <= _segment(mtu, _family(search))


def _segment(packet: int, family: int) -> int:
    return packet - IP_HEADER_BYTES[family] - TCP_HEADER_BYTES


def _family(search: MtuSearch) -> int:
    return 6 if ":" in search.target else 4
