"""Delay as a distribution: one mound for each series on one axis, its figures beside it."""

from __future__ import annotations

from collections.abc import Sequence

from agent.record import Criterion, EchoOutcome, EchoSeries, Measurement, Record, Role
from agent.sheet.catalogue import figures
from agent.sheet.delays import Series, figures_of_series, name_of_series, series_of
from agent.sheet.model import Spread, Spreads, Tick
from agent.sheet.mounds import LogAxis, log_axis, mound
from agent.sheet.numbers import number, trimmed, with_unit
from agent.sheet.wording import more

MOST_ON_PAGE, MOST_IN_DETAIL = 6, 18
BINS = 72
PROMISED = {Role.GATEWAY: "gateway-delay-median", Role.SERVER: "server-delay-median"}
"""Which criterion holds the median of an idle series."""


def page_spreads(record: Record) -> Spreads | None:
    """Return the series that decide: idle outwards, and to the server under each load."""
    return _spreads(record, series_of(record), MOST_ON_PAGE)


def every_spread(record: Record) -> Spreads | None:
    """Return the mounds of every series, up to what a second page can hold."""
    return _spreads(record, series_of(record, every=True), MOST_IN_DETAIL)


def _spreads(record: Record, found: Sequence[Series], most: int) -> Spreads | None:
    shown = found[:most]
    axis = log_axis([rtt for m, _ in shown for rtt in answered_ms(m)])
    if axis is None:
        return None
    return Spreads(
        title=figures.SPREADS,
        head=figures.HEAD_SPREADS,
        rows=tuple(spread_of(record, m_s, axis) for m_s in shown),
        ticks=ticks_of(axis),
        note=figures.NOTE_SPREADS,
        marks=figures.MARKS_SPREADS,
        more=more(len(found) - len(shown)),
    )


def answered_ms(measurement: Measurement) -> tuple[float, ...]:
    """Return the round trips of a series that came in time, in sending order."""
    seen = measurement.observed
    if not isinstance(seen, EchoSeries):
        return ()
    pairs = zip(seen.rtt_ms, seen.outcome, strict=True)
    return tuple(rtt for rtt, out in pairs if rtt is not None and out is EchoOutcome.ANSWERED)


def ticks_of(axis: LogAxis) -> tuple[Tick, ...]:
    """Return the round values of an axis of ms, the unit beside the last."""
    ticks = tuple(Tick(at=axis.at(ms), text=trimmed(number(ms, "ms"))) for ms in axis.ticks())
    return (*ticks[:-1], *(Tick(at=t.at, text=with_unit(t.text, "ms")) for t in ticks[-1:]))


def spread_of(record: Record, one: Series, axis: LogAxis) -> Spread:
    """Return one series as a mound over the axis, with its figures."""
    measurement, s = one
    sent, lost, median, p95, *_ = figures_of_series(s)
    limit = _limit_ms(record, measurement, s.load)
    return Spread(
        label=name_of_series(measurement, s),
        heights=mound(answered_ms(measurement), axis, BINS),
        median_at=None if s.rtt_ms.median is None else axis.at(s.rtt_ms.median),
        p95_at=None if s.rtt_ms.p95 is None else axis.at(s.rtt_ms.p95),
        limit_at=None if limit is None else axis.at(limit),
        cells=(median, p95, lost, sent),
        silent="" if s.received else figures.SPREAD_SILENT,
    )


def _limit_ms(record: Record, measurement: Measurement, load: str) -> float | None:
    name = PROMISED.get(measurement.role) if load == "none" else None
    found: list[Criterion] = [
        c
        for c in record.assessment.criteria
        if c.name == name and c.needed and measurement.id in c.measurements
    ]
    return found[0].limit if found else None
