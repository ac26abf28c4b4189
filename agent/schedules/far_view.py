"""All that is known of the far end of a delay series, from its log or from its counts."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass, replace

from agent.measurements import EchoSeries
from agent.schedules.far import FarReport, Reflection, far_copies, received_by_report
from agent.schedules.far_counts import arrivals_by_counts, received_by_counts


@dataclass(frozen=True, slots=True, kw_only=True)
class FarView:
    """Columns by sequence number: `received`, `copies` that came, the first answer's `counts`.

    `order` lists the numbers as they first came there; `arrivals` is how many came in all. None
    where there was no word of it.
    """

    received: tuple[bool | None, ...] | None = None
    order: tuple[int, ...] | None = None
    copies: tuple[int, ...] | None = None
    counts: tuple[int | None, ...] | None = None
    arrivals: int | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class NearView:
    """What is known at this end: `answered` by sequence number, and every answer's reflection.

    Numbers from `answered`'s length up to `attempted` were sent too and are no part of the series;
    those in `unsent` never left.
    """

    answered: Sequence[bool]
    reflections: Sequence[tuple[int, Reflection]]
    attempted: int
    unsent: Collection[int] = ()
    stateful: bool = False


def far_view(near: NearView, report: FarReport | None) -> FarView:
    """Return what the log says, or without one the counts."""
    sent = len(near.answered)
    if report is not None:
        counts = _counts(near) if near.reflections else None
        return replace(_by_report(near.answered, report), counts=counts)
    if not near.reflections:
        return FarView()
    known = received_by_counts(
        near.attempted, near.reflections, stateful=near.stateful, unsent=near.unsent
    )
    trusted = near.stateful or any(n != r.count for n, r in near.reflections)
    return FarView(
        received=known[:sent],
        counts=_counts(near),
        arrivals=arrivals_by_counts(sent, known, near.reflections) if trusted else None,
    )


def with_log(series: EchoSeries, report: FarReport) -> EchoSeries:
    """Return a series whose far end is told by its log, which came when the series was over."""
    far = _by_report([rtt_ms is not None for rtt_ms in series.rtt_ms], report)
    return replace(
        series,
        far_received=far.received,
        far_order=far.order,
        far_copies=far.copies,
        far_arrivals=far.arrivals,
    )


def _by_report(answered: Sequence[bool], report: FarReport) -> FarView:
    received, order = received_by_report(report, answered)
    return FarView(
        received=received,
        order=order,
        copies=far_copies(report, len(answered)),
        arrivals=None if None in received else sum(map(bool, received)),
    )


def _counts(near: NearView) -> tuple[int | None, ...]:
    first: dict[int, int] = {}
    for number, reflection in near.reflections:
        first.setdefault(number, reflection.count)
    return tuple(first.get(number) for number in range(len(near.answered)))
