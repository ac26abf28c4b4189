"""A hop walk: one entry per attempt, silent attempts included."""

from __future__ import annotations

from dataclasses import dataclass

from agent.measurements.columns import require_equal_lengths


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
        )
