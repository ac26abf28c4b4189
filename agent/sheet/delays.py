"""The table of delay and loss: idle and loaded series to each far end, outwards."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from agent.record import (
    DelayStatistics,
    EchoSeries,
    Kind,
    Measurement,
    Record,
    Role,
    Sense,
    StampClock,
    VoiceEstimate,
)
from agent.sheet.catalogue import figures, words
from agent.sheet.model import Table
from agent.sheet.numbers import DASH, TIE, fixed, judged, number, quantity
from agent.sheet.pick import picked
from agent.sheet.wording import LINE, more, word

MOST_ROWS = 8
OUTWARDS = ("gateway", "modem", "first-hop", "server", "outside")
LOADS = ("none", "down", "up")
Series = tuple[Measurement, DelayStatistics]


def delay_table(record: Record, most: int = MOST_ROWS) -> Table:
    """Return one row for each series, at `most` so many; the rise stands where a load ran."""
    every = picked(record, DelayStatistics, Kind.DELAY)
    found = series_of(record, every=True)
    loaded = any(s.load != LOADS[0] for _, s in found)
    rows = tuple(_row(m, s, loaded=loaded) for m, s in found[:most])
    return Table(
        title=words.LABEL["delay"],
        head=(*figures.HEAD_DELAY, figures.HEAD_RISE) if loaded else figures.HEAD_DELAY,
        rows=rows,
        more=more(len(every) - min(len(found), most)),
        note=" ".join(_notes(found, loaded=loaded)),
    )


def series_of(record: Record, *, every: bool = False) -> list[Series]:
    """Return the series outwards, one of each kind.

    Unless `every` one is asked for, a series under load before the server, or of long probes, is
    left out where no finding rests on it.
    """
    found = picked(record, DelayStatistics, Kind.DELAY)
    cited = {one for finding in record.diagnosis.findings for one in finding.evidence}
    shown = [(m, s) for m, s in found if every or _tells(m, s) or m.id in cited]
    return sorted(_first_of_each(shown), key=_outwards)


def _tells(measurement: Measurement, s: DelayStatistics) -> bool:
    if measurement.role in (Role.SERVER, Role.OUTSIDE):
        return True
    return s.load == LOADS[0] and not _is_long(measurement)


def _is_long(measurement: Measurement) -> bool:
    seen = measurement.observed
    return isinstance(seen, EchoSeries) and seen.long


def _notes(found: Sequence[Series], *, loaded: bool) -> Iterator[str]:
    yield figures.NOTE_DELAY
    if loaded:
        yield figures.NOTE_RISE
    used = {m.method for m, _ in found}
    yield from (note for method, note in figures.NOTE_METHOD.items() if method in used)
    yield from _server_notes(found)
    coarse = [_far_end(m) for m, _ in found if m.clock is StampClock.USER]
    if coarse:
        yield figures.NOTE_CLOCK.format(roles=", ".join(dict.fromkeys(coarse)))


def _server_notes(found: Sequence[Series]) -> Iterator[str]:
    """Yield what the idle series to the server tells beyond its row."""
    idle = (s for m, s in found if m.role is Role.SERVER and s.load == LOADS[0])
    s = next(idle, None)
    if s is None:
        return
    if len(s.bursts) > 1 and s.loss_bounds is not None:
        lost, longest = sum(s.bursts), max(s.bursts)
        yield figures.NOTE_RUNS.format(lost=lost, runs=len(s.bursts), longest=longest)
    if s.reordering is not None and s.reordering.extent_max is not None:
        order = s.reordering
        yield figures.NOTE_ORDER.format(late=order.reordered, extent=order.extent_max)
    if s.replicated_ratio:
        yield figures.NOTE_COPIES.format(share=quantity(s.replicated_ratio, "ratio"))
    if s.voice is not None:
        yield _voice(s.voice)


def _voice(call: VoiceEstimate) -> str:
    """Return the estimate of a call with everything it assumes."""
    return figures.NOTE_VOICE.format(
        r=fixed(call.r, 0),
        r_low=fixed(call.r_low, 0),
        r_high=fixed(call.r_high, 0),
        mos=fixed(call.mos, 1),
        mos_low=fixed(call.mos_low, 1),
        mos_high=fixed(call.mos_high, 1),
        codec=word(figures.CODEC, call.codec, LINE),
        packet=fixed(call.packet_ms, 0),
        buffer=fixed(call.buffer_ms, 0),
    )


def _first_of_each(every: Sequence[Series]) -> list[Series]:
    """Return the series without those that repeat one, as beside a second transfer."""
    kept: dict[tuple[object, ...], Series] = {}
    for m, s in every:
        kind = (m.role, m.family, m.method, m.address, s.load, _is_long(m))
        kept.setdefault(kind, (m, s))
    return list(kept.values())


def _outwards(one: Series) -> tuple[int, int]:
    role, load = one[0].role.value, one[1].load
    return (
        OUTWARDS.index(role) if role in OUTWARDS else len(OUTWARDS),
        LOADS.index(load) if load in LOADS else len(LOADS),
    )


def name_of_series(measurement: Measurement, s: DelayStatistics) -> str:
    """Return the far end of a series, the load it ran under and the kind of its probes."""
    load, long = words.LOAD.get(s.load, ""), words.LONG_PROBES if _is_long(measurement) else ""
    return _far_end(measurement) + load + long


def figures_of_series(s: DelayStatistics) -> tuple[str, str, str, str, str]:
    """Return how many probes were sent, the share lost, and median, 95th percentile and PDV in ms.

    They stand in the order sent, lost, median, p95, PDV.
    """
    width = None
    if s.median_low_ms is not None and s.median_high_ms is not None:
        width = s.median_high_ms - s.median_low_ms
    return (
        str(s.sent),
        _loss(s),
        number(s.rtt_ms.median, "ms", width),
        number(s.rtt_ms.p95, "ms"),
        number(s.pdv_ms, "ms"),
    )


def _row(measurement: Measurement, s: DelayStatistics, *, loaded: bool) -> tuple[str, ...]:
    row = (name_of_series(measurement, s), *figures_of_series(s))
    return (*row, _rise(s)) if loaded else row


def _far_end(measurement: Measurement) -> str:
    """Return the role, and the means where it was not the usual one."""
    means = words.BY_METHOD.get(measurement.method, "")
    return word(words.ROLE, measurement.role) + means


def _rise(s: DelayStatistics) -> str:
    return "" if s.load == LOADS[0] else number(s.rise_ms, "ms")


def _loss(s: DelayStatistics) -> str:
    if s.loss_ratio is None:
        return DASH
    text = judged(s.loss_ratio, s.loss_low, s.loss_high, unit="ratio", sense=Sense.AT_MOST)
    value = text.value.removesuffix(TIE + "%")
    return f"{value} ({text.interval})" if text.interval else value
