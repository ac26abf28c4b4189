"""A delay series: one entry per probe sent, losses included."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from enum import StrEnum
from typing import TypeVar

from agent.measurements.columns import require_equal_lengths
from agent.measurements.web import WebAttempt

T = TypeVar("T")


class EchoOutcome(StrEnum):
    """What became of one probe; `late` came after the stated waiting time."""

    ANSWERED = "answered"
    LATE = "late"
    LOST = "lost"
    UNREACHABLE = "unreachable"
    UNSENT = "unsent"


LONG_BYTES = 1_000
"""A probe that carries this much is a long one."""


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
    `far_copies` is how often each probe arrived there, `far_count` the far end's own number of the
    first answer to it: both tell of order and duplication in one direction. `far_arrivals` is how
    many probes of the series arrived there in all, where that is known without knowing which.
    `authenticated` says whether the packets were under a key (RFC 8762 §4.2.2), None where the
    method knows no such mode. `answers_limited` says that the far end may answer fewer probes than
    it gets, as hosts limit the errors they send (RFC 1812 §4.3.2.8): a probe without an answer is
    then no loss.
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
    far_copies: tuple[int, ...] | None = None
    far_count: tuple[int | None, ...] | None = None
    far_arrivals: int | None = None
    forward_ms: tuple[float | None, ...] | None = None
    backward_ms: tuple[float | None, ...] | None = None
    error_from: tuple[tuple[int, str, str], ...] = ()
    foreign: tuple[WebAttempt, ...] | None = None
    load: str = "none"
    clock_steps: int = 0
    answers_limited: bool = False
    authenticated: bool | None = None

    def __post_init__(self) -> None:
        require_equal_lengths(
            "a delay series",
            sent_s=self.sent_s,
            rtt_ms=self.rtt_ms,
            outcome=self.outcome,
            copies=self.copies or None,
            far_received=self.far_received,
            far_copies=self.far_copies,
            far_count=self.far_count,
            forward_ms=self.forward_ms,
            backward_ms=self.backward_ms,
        )

    @property
    def long(self) -> bool:
        """Tell whether its probes are long; others carry a tenth of that at most."""
        return self.payload_bytes >= LONG_BYTES

    def _arrivals(self, kept: Sequence[int]) -> int | None:
        """Return how many of the kept probes arrived at the far end, None where that is open."""
        if len(kept) == len(self.sent_s):
            return self.far_arrivals
        known = _maybe(self.far_received, kept)
        return None if known is None or None in known else sum(map(bool, known))

    def between(self, from_s: float, until_s: float) -> EchoSeries:
        """Return the part of the series sent from one time of the visit up to another.

        Sequence numbers begin anew at 0. `foreign` is cut in the same way.
        """
        kept = [n for n, at_s in enumerate(self.sent_s) if from_s <= at_s < until_s]
        number = {old: new for new, old in enumerate(kept)}
        fetches = self.foreign
        return replace(
            self,
            sent_s=_taken(self.sent_s, kept),
            rtt_ms=_taken(self.rtt_ms, kept),
            outcome=_taken(self.outcome, kept),
            copies=_taken(self.copies, kept) if self.copies else (),
            arrival_order=_renumbered(self.arrival_order, number),
            far_received=_maybe(self.far_received, kept),
            far_order=None if self.far_order is None else _renumbered(self.far_order, number),
            far_copies=_maybe(self.far_copies, kept),
            far_count=_maybe(self.far_count, kept),
            far_arrivals=self._arrivals(kept),
            forward_ms=_maybe(self.forward_ms, kept),
            backward_ms=_maybe(self.backward_ms, kept),
            error_from=tuple((number[n], a, k) for n, a, k in self.error_from if n in number),
            foreign=None
            if fetches is None
            else tuple(one for one in fetches if from_s <= one.sent_s < until_s),
        )


def _taken(column: Sequence[T], kept: Sequence[int]) -> tuple[T, ...]:
    return tuple(column[n] for n in kept)


def _maybe(column: Sequence[T] | None, kept: Sequence[int]) -> tuple[T, ...] | None:
    return None if column is None else _taken(column, kept)


def _renumbered(order: Sequence[int], number: Mapping[int, int]) -> tuple[int, ...]:
    return tuple(number[n] for n in order if n in number)
