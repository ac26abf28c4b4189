"""A hop walk: one entry per attempt, silent attempts included."""

from __future__ import annotations

from dataclasses import dataclass

from agent.measurements.columns import require_equal_lengths
from agent.measurements.mtu import MtuSearch


@dataclass(frozen=True, slots=True, kw_only=True)
class HopLabel:
    """One entry of the MPLS label stack that the probe carried, top first (RFC 4950)."""

    label: int
    traffic_class: int
    bottom: bool
    ttl: int


@dataclass(frozen=True, slots=True, kw_only=True)
class HopInterface:
    """An interface a router named (RFC 5837).

    `role` is "incoming", "incoming-part", "outgoing" or "next-hop".
    """

    role: str
    index: int | None = None
    address: str | None = None
    name: str | None = None
    mtu_bytes: int | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class HopExtensions:
    """What a router added to one answer."""

    labels: tuple[HopLabel, ...] = ()
    interfaces: tuple[HopInterface, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class HopWalk:
    """Columns, one entry per attempt.

    `distance` is the hop limit sent; `answered_by`, `rtt_ms`, `icmp_type` and `icmp_code` are None
    for a silent attempt. `names` pairs an address with the name found for it afterwards.
    `flow` numbers the flow (constant addresses and ports) of each attempt. `unplaced` counts, by
    address, answers that quote too little of the probe to tell which attempt they belong to.
    `extensions` is empty where no answer had any. `further` pairs the index of an entry with the
    address of an answer to it that came after the first. `mtu` is the search for the path MTU that
    ran beside the walk.
    """

    target: str
    protocol: str
    waiting_s: float
    distance: tuple[int, ...] = ()
    attempt: tuple[int, ...] = ()
    flow: tuple[int, ...] = ()
    sent_s: tuple[float, ...] = ()
    rtt_ms: tuple[float | None, ...] = ()
    answered_by: tuple[str | None, ...] = ()
    icmp_type: tuple[int | None, ...] = ()
    icmp_code: tuple[int | None, ...] = ()
    names: tuple[tuple[str, str], ...] = ()
    path_mtu_bytes: int | None = None
    unplaced: tuple[tuple[str, int], ...] = ()
    extensions: tuple[HopExtensions | None, ...] = ()
    further: tuple[tuple[int, str], ...] = ()
    mtu: MtuSearch | None = None

    def __post_init__(self) -> None:
        require_equal_lengths(
            "a hop walk",
            distance=self.distance,
            attempt=self.attempt or None,
            flow=self.flow or None,
            sent_s=self.sent_s,
            rtt_ms=self.rtt_ms,
            answered_by=self.answered_by,
            icmp_type=self.icmp_type,
            icmp_code=self.icmp_code,
            extensions=self.extensions or None,
        )
