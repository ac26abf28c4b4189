"""Throughput over time: one mound for each direction, with what of it was counted and its mean."""

from __future__ import annotations

from agent.record import Criterion, Record, Transfer
from agent.sheet.bars import RATE_OF, criterion_text
from agent.sheet.catalogue import figures, words
from agent.sheet.model import Course, Courses, Tick
from agent.sheet.mounds import rates_over_time
from agent.sheet.numbers import number, quantity, with_unit
from agent.sheet.rates import WAYS, Way, way_of
from agent.sheet.wording import word

BINS = 60
OCTET = 8
ROOM = 1.5
"""Space above mean and limit; a moment that brought more ends at the edge."""
MOST_TICKS = 6
STEPS_S = (0.5, 1, 2, 5, 10, 20, 60)


def build_courses(record: Record) -> Courses | None:
    """Return the judged transfer of each direction over one axis of time, None without any."""
    ways = [way for d in WAYS if (way := way_of(record, d)) is not None and _slices(way)]
    if not ways:
        return None
    span_s = max(_slices(way)[-1] for way in ways)
    return Courses(
        title=figures.COURSES,
        rows=tuple(_course(record, way, span_s) for way in ways),
        ticks=_ticks(span_s),
        note=figures.NOTE_COURSES,
        marks=figures.MARKS_COURSES,
    )


def _slices(way: Way) -> tuple[float, ...]:
    seen = way.measurement.observed
    return seen.slice_end_s if isinstance(seen, Transfer) else ()


def _course(record: Record, way: Way, span_s: float) -> Course:
    seen, s = way.measurement.observed, way.statistics
    assert isinstance(seen, Transfer)
    octets = tuple(map(float, seen.slice_bytes))
    rates = [r * OCTET for r in rates_over_time(seen.slice_end_s, octets, span_s, BINS)]
    criterion = _criterion(record, way)
    limit = criterion.limit if criterion is not None else None
    mean = s.goodput_bps or 0.0
    top = max(mean, limit or 0.0) * ROOM or max(*rates, 1.0)
    began = min(1.0, (s.ramp_s or 0.0) / span_s)
    return Course(
        label=word(words.DIRECTION, way.direction),
        heights=tuple(min(1.0, rate / top) for rate in rates),
        counted_from=began,
        counted_to=min(1.0, began + (s.used_s or span_s) / span_s),
        mean_at=mean / top,
        mean=_mean(criterion, mean),
        limit_at=None if limit is None else limit / top,
    )


def _criterion(record: Record, way: Way) -> Criterion | None:
    names = [name for name, direction in RATE_OF.items() if direction is way.direction]
    return next((c for c in record.assessment.criteria if c.name in names), None)


def _mean(criterion: Criterion | None, mean: float) -> str:
    """Return the mean as it stands beside the bars, so that one page has one figure."""
    text = criterion_text(criterion) if criterion is not None else None
    return text.value if text is not None else quantity(mean, "bps")


def _ticks(span_s: float) -> tuple[Tick, ...]:
    step = next((s for s in STEPS_S if span_s / s <= MOST_TICKS), STEPS_S[-1])
    marks = [step * i for i in range(int(span_s / step) + 1)]
    texts = [number(mark, "s") for mark in marks]
    texts[-1] = with_unit(texts[-1], "s")
    return tuple(Tick(at=m / span_s, text=t) for m, t in zip(marks, texts, strict=True))
