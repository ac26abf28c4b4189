"""A delay series: one entry per probe sent, losses included."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from agent.measurements.columns import require_equal_lengths
from agent.measurements.web import WebAttempt


class EchoOutcome(StrEnum):
    """What became of one probe; `late` came after the stated waiting time."""

    ANSWERED = "answered"
    LATE = "late"
    LOST = "lost"
    UNREACHABLE = "unreachable"
    UNSENT = "unsent"


@dataclass(frozen=True, slots=True, kw_only=True)
class EchoSeries:
    """Columns indexed by sequence number 0..n-1.

    `sent_s` is seconds from the start of the visit; `rtt_ms` is None where nothing came back (a
    late answer keeps its time); `copies` counts answers received (2 = duplicated once);
    `arrival_order` lists sequence numbers in the order their first answers came. `far_received` is
    True or False where the far end says whether the probe reached it, None where it cannot say;
    `far_order` likewise lists the numbers in their order of arrival there. `error_from` and
    `error_kind` name who sent an ICMP error and its type/code, sparse by sequence number.
    `load` is "none", "down" or "up": the agent's own traffic while the series ran.
    `waiting_s` is part of the loss metric (RFC 7680 §2.2). `foreign` holds small fetches from the
    same far end on connections of their own while the series ran, None where none were asked for.
    """

    waiting_s: float
    interval_s: float
    payload_bytes: int
    sent_s: tuple[float, ...] = ()
    rtt_ms: tuple[float | None, ...] = ()
    outcome: tuple[EchoOutcome, ...] = ()
    copies: tuple[int, ...] = ()
    arrival_order: tuple[int, ...] = ()
    far_received: tuple[bool | None, ...] | None = None
    far_order: tuple[int, ...] | None = None
    forward_ms: tuple[float | None, ...] | None = None
    backward_ms: tuple[float | None, ...] | None = None
    error_from: tuple[tuple[int, str, str], ...] = ()
    foreign: tuple[WebAttempt, ...] | None = None
    load: str = "none"
    clock_steps: int = 0

    def __post_init__(self) -> None:
        require_equal_lengths(
            "a delay series",
            sent_s=self.sent_s,
            rtt_ms=self.rtt_ms,
            outcome=self.outcome,
            copies=self.copies or None,
            far_received=self.far_received,
            forward_ms=self.forward_ms,
            backward_ms=self.backward_ms,
        )
