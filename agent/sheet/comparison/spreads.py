"""The delay to the server in every record: mounds on one axis, idle and under each load."""

from __future__ import annotations

from collections.abc import Sequence

from agent.record import Criterion, DelayStatistics, Record, Role, Sense, Verdict, difference
from agent.sheet.catalogue import compare as said
from agent.sheet.catalogue import words
from agent.sheet.comparison.figures import BEYOND, apart_of
from agent.sheet.comparison.model import Change, SpreadCell, SpreadRow, SpreadRows
from agent.sheet.delays import LOADS, Series, series_of
from agent.sheet.model import Spread
from agent.sheet.mounds import LogAxis, log_axis
from agent.sheet.spreads import answered_ms, spread_of, ticks_of


def spread_rows(records: Sequence[Record]) -> SpreadRows | None:
    """Return a row for each load under which any record has a series, None without a value."""
    found = {load: [_series(record, load) for record in records] for load in LOADS}
    every = [one for row in found.values() for one in row if one is not None]
    axis = log_axis([rtt for m, _ in every for rtt in answered_ms(m)])
    if axis is None:
        return None
    return SpreadRows(
        title=said.SPREADS,
        ticks=ticks_of(axis),
        rows=tuple(_row(records, load, row, axis) for load, row in found.items() if any(row)),
    )


def _series(record: Record, load: str) -> Series | None:
    """Return the first series to the server under a load."""
    found = series_of(record)
    return next((one for one in found if one[0].role is Role.SERVER and one[1].load == load), None)


def _row(
    records: Sequence[Record], load: str, found: Sequence[Series | None], axis: LogAxis
) -> SpreadRow:
    cells = (_cell(*pair, axis) for pair in zip(records, found, strict=True))
    return SpreadRow(label=said.LOAD[load], cells=tuple(cells), change=_change(found))


def _cell(record: Record, one: Series | None, axis: LogAxis) -> SpreadCell:
    if one is None:
        return SpreadCell(spread=_nothing(), figures="", sample="")
    spread = spread_of(record, one, axis)
    median, p95, lost, sent = spread.cells
    return SpreadCell(
        spread=spread,
        figures=said.SPREAD_LINE.format(median=median, p95=p95),
        sample=said.SPREAD_SAMPLE.format(lost=lost, sent=sent),
    )


def _nothing() -> Spread:
    return Spread(
        label="",
        heights=(),
        median_at=None,
        p95_at=None,
        limit_at=None,
        cells=(),
        silent=said.NOT_IN_RECORD,
    )


def _change(found: Sequence[Series | None]) -> Change:
    first, last = (None if one is None else _median(one[1]) for one in (found[0], found[-1]))
    told = difference(first, last)
    beyond = told in BEYOND
    text = said.MEDIAN_TOLD[told]
    return Change(text=text, told=beyond, figure=beyond, apart=apart_of(first, last))


def _median(s: DelayStatistics) -> Criterion:
    """Return the median with its interval as something that can be held against another."""
    return Criterion(
        name=words.LABEL["median"],
        measurements=(),
        needed=False,
        sense=Sense.AT_MOST,
        unit="ms",
        limit=None,
        limit_source="",
        outcome=Verdict.NOT_PROVEN,
        measured=s.rtt_ms.median,
        low=s.median_low_ms,
        high=s.median_high_ms,
    )
