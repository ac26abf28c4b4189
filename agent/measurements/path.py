"""A hop walk: one entry per attempt, silent attempts included."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class HopWalk:
    """Columns, one entry per attempt.

    `distance` is the hop limit sent; `answered_by`, `rtt_ms`, `icmp_type` and `icmp_code` are None
    for a silent attempt. `names` pairs an address with the name found for it afterwards.
    `flow` numbers the flow (constant addresses and ports) of each attempt. `unplaced` counts, by
    address, answers that quote too little of the probe to tell which attempt they belong to.
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
