"""A search for the path MTU: one entry per packet sent, those that vanished included."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from agent.measurements.columns import require_equal_lengths


class SizeOutcome(StrEnum):
    """What became of a packet of one size.

    ANSWERED came back whole in the same size; REFUSED was returned by a router as too big;
    HELD_BACK never left, its own port is too small for it; PASSED was answered by a router at the
    distance that it was sent to; LOST met silence; OPEN was under way when the search
    had its result.
    """

    ANSWERED = "answered"
    REFUSED = "refused"
    HELD_BACK = "held-back"
    PASSED = "passed"
    LOST = "lost"
    OPEN = "open"


@dataclass(frozen=True, slots=True, kw_only=True)
class TcpSegments:
    """What TCP agreed on with the same far end, on a connection of its own before the search.

    `send_mss_bytes` is the payload of a full segment towards the far end, `option_bytes` what
    options take of each, `advertised_mss_bytes` what this side offered in its SYN, and
    `path_mtu_bytes` the packet size that this system's kernel then held the path to carry.
    """

    send_mss_bytes: int
    option_bytes: int = 0
    advertised_mss_bytes: int | None = None
    path_mtu_bytes: int | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class MtuSearch:
    """Columns, one entry per packet; sizes are bytes of the whole IP packet.

    `distance` is the hop limit of a packet that was to end on the way, None for one meant for the
    target. `far_received` is whether the far end took it, by its own log, None where there was no
    word. `refused_by` and `named_bytes` are the router that returned it and the size it named;
    `answered_by` who answered a packet that was to end on the way. `not_measured` is the code of
    why there are no packets, or not all.
    """

    target: str
    protocol: str
    header_bytes: int
    waiting_s: float = 0.0
    size_bytes: tuple[int, ...] = ()
    distance: tuple[int | None, ...] = ()
    sent_s: tuple[float, ...] = ()
    rtt_ms: tuple[float | None, ...] = ()
    outcome: tuple[SizeOutcome, ...] = ()
    far_received: tuple[bool | None, ...] = ()
    refused_by: tuple[str | None, ...] = ()
    named_bytes: tuple[int | None, ...] = ()
    answered_by: tuple[str | None, ...] = ()
    tcp: TcpSegments | None = None
    duration_s: float | None = None
    not_measured: str | None = None

    def __post_init__(self) -> None:
        require_equal_lengths(
            "a path MTU search",
            size_bytes=self.size_bytes,
            distance=self.distance,
            sent_s=self.sent_s,
            rtt_ms=self.rtt_ms,
            outcome=self.outcome,
            far_received=self.far_received,
            refused_by=self.refused_by,
            named_bytes=self.named_bytes,
            answered_by=self.answered_by,
        )
