"""The rate in detail: what stands behind each direction's figure, one column for each."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

from agent.record import (
    DelayStatistics,
    Direction,
    Kind,
    Limiter,
    Limiting,
    Measurement,
    Record,
    Role,
    ThroughputStatistics,
    Transfer,
)
from agent.sheet.catalogue import figures, words
from agent.sheet.model import Table
from agent.sheet.numbers import DASH, number, quantity
from agent.sheet.pick import picked
from agent.sheet.wording import LIKELY_FROM, bounded, word

WAYS = (Direction.DOWN, Direction.UP)
KILO = 1e3
BY_PROBES = "delay"
ALGORITHM = 16
RATIO_DIGITS_WIDTH = 0.02


@dataclass(frozen=True, slots=True)
class Way:
    """All transfers of one direction, and the one whose rate is judged.

    `timed` is that one, or another beside which delay was measured where it was not beside it.
    """

    record: Record
    direction: Direction
    measurement: Measurement
    statistics: ThroughputStatistics
    timed: ThroughputStatistics
    rates: tuple[float, ...]


def rate_table(record: Record) -> Table:
    """Return a row for each figure that either direction has."""
    ways = [way for direction in WAYS if (way := way_of(record, direction)) is not None]
    cells = ((label, tuple(draw(way) for way in ways)) for label, draw in _ROWS)
    rows = tuple((figures.RATE_ROW[label], *found) for label, found in cells if any(found))
    return Table(
        title=words.LABEL["rate"],
        head=("", *(words.DIRECTION[way.direction] for way in ways)),
        rows=tuple(tuple(cell or DASH for cell in row) for row in rows),
        note=_note(ways),
    )


def way_of(record: Record, direction: Direction) -> Way | None:
    """Return the transfers of a direction, None where none has a rate."""
    found = [
        (m, s)
        for m, s in picked(record, ThroughputStatistics, Kind.THROUGHPUT)
        if m.direction is direction and s.goodput_bps is not None
    ]
    if not found:
        return None
    rates = tuple(s.goodput_bps for _, s in found if s.goodput_bps is not None)
    measurement, statistics = found[rates.index(max(rates))]
    beside = [s for s in (statistics, *(s for _, s in found)) if _timed(s)]
    timed = beside[0] if beside else statistics
    return Way(record, direction, measurement, statistics, timed, rates)


def _timed(s: ThroughputStatistics) -> bool:
    return s.loaded_rtt_ms is not None and s.rtt_source == BY_PROBES


def limiter_of(record: Record, measurement: Measurement) -> Limiter | None:
    """Return who limited a transfer, None where that was not judged."""
    found = (one for one in record.assessment.limiters if one.measurement == measurement.id)
    return next(found, None)


def limiter_text(limiter: Limiter) -> str:
    """Return a limiter in a word or two, with doubt where there is some."""
    name = word(figures.LIMITER, limiter.limiter)
    sure = limiter.confidence >= LIKELY_FROM or limiter.limiter is Limiting.UNDETERMINED
    return name if sure else figures.POSSIBLY.format(name=name)


def _note(ways: Sequence[Way]) -> str:
    shown = [figures.NOTE_RATE] if any(way.statistics.ideal_bps for way in ways) else []
    if any(_rpm(way) for way in ways):
        shown.append(figures.NOTE_RPM)
    return " ".join(shown)


def _rate(value: float | None) -> str:
    return "" if value is None else number(value, "bps")


def _single(way: Way) -> str:
    return _rate(way.statistics.single_flow_bps)


def _burst(way: Way) -> str:
    return _rate(way.statistics.burst_bps)


def _twice(way: Way) -> str:
    return " / ".join(map(_rate, way.rates[:3])) if len(way.rates) > 1 else ""


def _limiter(way: Way) -> str:
    limiter = limiter_of(way.record, way.measurement)
    return "" if limiter is None else limiter_text(limiter)


def _ended(way: Way) -> str:
    seen = way.measurement.observed
    return word(figures.ENDED, seen.ended) if isinstance(seen, Transfer) else ""


def _counted(way: Way) -> str:
    return word(figures.COUNTED_BY, way.statistics.counted_by)


def _ideal(way: Way) -> str:
    s = way.statistics
    if s.ideal_bps is None:
        return ""
    return f"{number(s.ideal_bps, 'bps')} ({word(figures.IDEAL, s.ideal_source)})"


def _ratio(way: Way) -> str:
    ratio = way.statistics.transfer_time_ratio
    return "" if ratio is None else number(ratio, "count", RATIO_DIGITS_WIDTH)


def _efficiency(way: Way) -> str:
    share = way.statistics.tcp_efficiency_ratio
    return "" if share is None else quantity(share, "ratio", RATIO_DIGITS_WIDTH / 100)


def _buffer(way: Way) -> str:
    ratio = way.timed.buffer_delay_ratio
    return "" if ratio is None else quantity(ratio, "ratio")


def _round_trip(way: Way) -> str:
    s = way.timed
    if s.idle_rtt_ms is None:
        return ""
    return f"{number(s.idle_rtt_ms, 'ms')} / {number(s.loaded_rtt_ms, 'ms')}"


def _window(way: Way) -> str:
    octets = way.statistics.window_needed_bytes
    return "" if octets is None else number(octets / KILO, "count")


def _held(way: Way) -> str:
    window, buffer = way.statistics.window_limited_ratio, way.statistics.send_buffer_limited_ratio
    if window is None and buffer is None:
        return ""
    return f"{quantity(window, 'ratio')} / {quantity(buffer, 'ratio')}"


def _algorithm(way: Way) -> str:
    """Return the congestion control of the sending end: the server's own where it told."""
    told: object = way.statistics.congestion_control
    if way.direction is Direction.DOWN:
        told = way.record.server.card.get("congestion_control") if way.record.server else None
    if isinstance(told, str) and told:
        return bounded(told, ALGORITHM)
    return figures.NOT_TOLD if way.statistics.congestion_control else ""


def _responsive(way: Way) -> str:
    rpm = _rpm(way)
    return "" if rpm is None else number(rpm, "count")


def _rpm(way: Way) -> float | None:
    """Return the round trips a minute of the loaded series nearest to the transfer."""
    loaded = (
        (abs(m.started_s - way.measurement.started_s), s.responsiveness.rpm)
        for m, s in picked(way.record, DelayStatistics, Kind.DELAY)
        if m.role is Role.SERVER and s.load == way.direction.value and s.responsiveness is not None
    )
    found = [(apart_s, rpm) for apart_s, rpm in loaded if rpm is not None]
    return min(found)[1] if found else None


_ROWS: tuple[tuple[str, Callable[[Way], str]], ...] = (
    ("single", _single),
    ("burst", _burst),
    ("twice", _twice),
    ("limiter", _limiter),
    ("ended", _ended),
    ("counted", _counted),
    ("ideal", _ideal),
    ("ratio", _ratio),
    ("efficiency", _efficiency),
    ("round_trip", _round_trip),
    ("buffer", _buffer),
    ("rpm", _responsive),
    ("window", _window),
    ("held", _held),
    ("algorithm", _algorithm),
)
