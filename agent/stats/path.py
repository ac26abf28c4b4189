"""A hop walk reduced: who answered at each distance, and where and why it stops."""

from __future__ import annotations

from agent.measurements import Hop, HopWalk, PathStatistics
from agent.stats.delay import round_trip

_UNREACHABLE = {
    0: "net-unreachable",
    1: "host-unreachable",
    2: "protocol-unreachable",
    3: "port-unreachable",
    4: "fragmentation-needed",
    5: "source-route-failed",
    9: "prohibited",
    10: "prohibited",
    13: "prohibited",
}
"""Codes of ICMP type 3 (RFC 792, RFC 1812 §5.2.7.1)."""

_UNREACHABLE_6 = {
    0: "net-unreachable",
    1: "prohibited",
    3: "host-unreachable",
    4: "port-unreachable",
    5: "prohibited",
    6: "net-unreachable",
}
"""Codes of ICMPv6 type 1 (RFC 4443 §3.1)."""


def path_statistics(walk: HopWalk) -> PathStatistics:
    """Return the hops up to the target, or to the last distance that answered."""
    arrived = _target_distance(walk)
    last = arrived if arrived is not None else _last_distance(walk)
    distances = sorted(set(walk.distance))
    hops = tuple(_hop(walk, d) for d in distances if last is not None and d <= last)
    reached = arrived is not None
    return PathStatistics(
        hops=hops,
        reached=reached,
        stopped_at=None if reached else last,
        stop_code=None if reached else _stop_code(walk, hops),
        path_mtu_bytes=walk.path_mtu_bytes,
    )


def unreachable_code(icmp_type: int | None, icmp_code: int | None, family: int) -> str | None:
    """Return the code word of a destination-unreachable message, None for anything else."""
    known = _UNREACHABLE if family == 4 else _UNREACHABLE_6
    if icmp_type != (3 if family == 4 else 1) or icmp_code is None:
        return None
    return known.get(icmp_code, f"unreachable-{icmp_code}")


def _family(walk: HopWalk) -> int:
    return 6 if ":" in walk.target else 4


def _attempts(walk: HopWalk, distance: int) -> list[int]:
    return [i for i, d in enumerate(walk.distance) if d == distance]


def _word(walk: HopWalk, attempt: int) -> str | None:
    return unreachable_code(walk.icmp_type[attempt], walk.icmp_code[attempt], _family(walk))


def _arrived(walk: HopWalk, attempt: int) -> bool:
    """Only the destination answers "port unreachable" (RFC 1122 §3.2.2.1) or in its own name."""
    word = _word(walk, attempt)
    if word is not None:
        return word == "port-unreachable"
    return walk.answered_by[attempt] == walk.target


def _target_distance(walk: HopWalk) -> int | None:
    return min((d for i, d in enumerate(walk.distance) if _arrived(walk, i)), default=None)


def _last_distance(walk: HopWalk) -> int | None:
    """Return the first distance that was refused, else the last that answered."""
    refused = [d for i, d in enumerate(walk.distance) if _word(walk, i) is not None]
    return min(refused) if refused else _last_answering(walk)


def _last_answering(walk: HopWalk) -> int | None:
    answered = (d for i, d in enumerate(walk.distance) if walk.answered_by[i] is not None)
    return max(answered, default=None)


def _hop(walk: HopWalk, distance: int) -> Hop:
    attempts = _attempts(walk, distance)
    answered = [i for i in attempts if walk.answered_by[i] is not None]
    addresses = tuple(dict.fromkeys(str(walk.answered_by[i]) for i in answered))
    known = dict(walk.names)
    trips = [t for i in answered if (t := walk.rtt_ms[i]) is not None]
    return Hop(
        distance=distance,
        sent=len(attempts),
        answered=len(answered),
        addresses=addresses,
        names=tuple(known[a] for a in addresses if a in known),
        rtt_ms=round_trip(trips),
    )


def _stop_code(walk: HopWalk, hops: tuple[Hop, ...]) -> str:
    if not hops:
        return "silent"
    words = (_word(walk, i) for i in _attempts(walk, hops[-1].distance))
    refusal = next((word for word in words if word is not None), None)
    return refusal or ("loop" if _loops(hops) else "silent")


def _loops(hops: tuple[Hop, ...]) -> bool:
    """Tell whether an address comes back after another one answered in between."""
    seen: list[tuple[str, ...]] = [h.addresses for h in hops if h.addresses]
    last = seen[-1]
    between = [a for a in seen[:-1] if a != last]
    return last in seen[:-1] and seen.index(last) < len(seen) - 2 and bool(between)
