"""Reading a hop walk's columns: attempts of one distance, what each answer means."""

from __future__ import annotations

from collections.abc import Iterator

from agent.measurements import HopWalk

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


def unreachable_code(icmp_type: int | None, icmp_code: int | None, family: int) -> str | None:
    """Return the code word of a destination-unreachable message, None for anything else."""
    known = _UNREACHABLE if family == 4 else _UNREACHABLE_6
    if icmp_type != (3 if family == 4 else 1) or icmp_code is None:
        return None
    return known.get(icmp_code, f"unreachable-{icmp_code}")


def flow_of(walk: HopWalk, attempt: int) -> int:
    """Return the flow of an attempt; walks that name none have one."""
    return walk.flow[attempt] if walk.flow else 0


def attempts_at(walk: HopWalk, distance: int) -> list[int]:
    """Return the attempts at one distance, as sent."""
    return [i for i, d in enumerate(walk.distance) if d == distance]


def refusal(walk: HopWalk, attempt: int) -> str | None:
    """Return the code word of a refusal, None for any other answer."""
    family = 6 if ":" in walk.target else 4
    return unreachable_code(walk.icmp_type[attempt], walk.icmp_code[attempt], family)


def arrived(walk: HopWalk, attempt: int) -> bool:
    """Only the destination answers "port unreachable" (RFC 1122 §3.2.2.1) or in its own name."""
    word = refusal(walk, attempt)
    if word is not None:
        return word == "port-unreachable"
    return walk.answered_by[attempt] == walk.target


def answerers(walk: HopWalk, attempts: list[int]) -> tuple[str, ...]:
    """Return every address that answered any of the attempts, once, in order."""
    return tuple(dict.fromkeys(a for i in attempts for a in _answered(walk, i)))


def _answered(walk: HopWalk, attempt: int) -> Iterator[str]:
    first = walk.answered_by[attempt]
    if first is not None:
        yield first
    yield from (address for index, address in walk.further if index == attempt)
