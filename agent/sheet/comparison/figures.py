"""The rows of figures: each criterion of all records on one scale, as its own page prints it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from agent.record import Criterion, Record, Verdict, difference
from agent.sheet.bars import RATES, bar_of, label_of, reach_of, scale_on, sold_bps
from agent.sheet.catalogue import compare as said
from agent.sheet.catalogue import words
from agent.sheet.comparison.model import Apart, Change, FigureRow, Interval
from agent.sheet.model import Bar, Mark, Scale
from agent.sheet.numbers import DASH
from agent.sheet.wording import more, word

MOST_FIGURES, MOST_ALIKE = 10, 14
BEYOND = ("higher", "lower")


@dataclass(frozen=True, slots=True)
class Found:
    """One criterion in every record, None where a record has none of that name."""

    records: tuple[Record, ...]
    criteria: tuple[Criterion | None, ...]

    @property
    def apart(self) -> str:
        """Return how the last differs from the first."""
        return difference(self.criteria[0], self.criteria[-1])

    @property
    def known(self) -> tuple[Criterion, ...]:
        """Return those that there are."""
        return tuple(c for c in self.criteria if c is not None)

    @property
    def relimited(self) -> bool:
        """Return True where records hold the figure against several limits."""
        return len({c.limit for c in self.known if c.limit is not None}) > 1

    @property
    def alike(self) -> bool:
        """Return True where every record keeps it and the last says no more than the first."""
        kept = len(self.known) == len(self.criteria)
        kept = kept and all(c.outcome is Verdict.MEETS for c in self.known)
        return kept and self.apart not in BEYOND and not self.relimited


def rate_rows(records: Sequence[Record]) -> tuple[FigureRow, ...]:
    """Return a row for each direction that any record has, download first."""
    return tuple(_row(found) for name in RATES if (found := _found(name, records)).known)


def figure_rows(records: Sequence[Record]) -> tuple[tuple[FigureRow, ...], str]:
    """Return the other criteria, those that tell something first, and what is said of the rest."""
    every = [found for name in _names(records) if _shows(found := _found(name, records))]
    chosen = sorted(every, key=lambda one: (one.alike, not any(c.needed for c in one.known)))
    chosen = chosen[:MOST_FIGURES]
    rows = tuple(_row(one) for one in every if any(one is it for it in chosen))
    return rows, _rest([one for one in every if not any(one is it for it in chosen)])


def relimited(records: Sequence[Record]) -> tuple[str, ...]:
    """Return the names of criteria that the records hold against several limits."""
    every = (_found(name, records) for name in (*RATES, *_names(records)))
    return tuple(label_of(found.known[0]) for found in every if found.relimited)


def told_once(rows: Sequence[FigureRow]) -> tuple[FigureRow, ...]:
    """Return the rows without notes that stand in the same column further up."""
    told: dict[int, str] = {}
    kept = []
    for row in rows:
        cells = tuple(
            replace(bar, note="") if bar.note in told.get(at, "") else bar
            for at, bar in enumerate(row.cells)
        )
        told = {at: f"{told.get(at, '')} {bar.note}" for at, bar in enumerate(cells)}
        kept.append(replace(row, cells=cells))
    return tuple(kept)


def _names(records: Sequence[Record]) -> list[str]:
    names = dict.fromkeys(c.name for r in records for c in r.assessment.criteria)
    return [name for name in names if name not in RATES]


def _found(name: str, records: Sequence[Record]) -> Found:
    return Found(tuple(records), tuple(_named(name, record) for record in records))


def _named(name: str, record: Record) -> Criterion | None:
    """Return the criterion of a name: of several the needed one, else the first."""
    found = [c for c in record.assessment.criteria if c.name == name]
    return next((c for c in found if c.needed), found[0] if found else None)


def _shows(found: Found) -> bool:
    """Return True for what decides or shows a number in any record."""
    return any(c.needed or c.measured is not None for c in found.known)


def _rest(left: Sequence[Found]) -> str:
    alike = [label_of(one.known[0]) for one in left if one.alike][:MOST_ALIKE]
    told = [said.ALIKE.format(names="; ".join(alike))] if alike else []
    return " ".join([*told, *([left_out] if (left_out := more(len(left) - len(alike))) else [])])


def _row(found: Found) -> FigureRow:
    bars = [_bar(*pair) for pair in zip(found.records, found.criteria, strict=True)]
    scaled = [replace(b, scale=s) for b, s in zip(bars, shared_scales(found), strict=True)]
    under, cells = _lifted(scaled)
    return FigureRow(
        label=word(words.CRITERION, found.known[0].name),
        under=under,
        note=_shared([bar.note for bar in scaled]),
        cells=cells,
        change=_change(found),
    )


def _bar(record: Record, criterion: Criterion | None) -> Bar:
    if criterion is not None:
        return bar_of(record, criterion)
    return Bar(
        label="",
        value=DASH,
        interval="",
        limit="",
        sold="",
        sample="",
        mark=Mark.OPEN,
        outcome=said.NOT_IN_RECORD,
        note="",
        scale=None,
    )


def shared_scales(found: Found) -> tuple[Scale | None, ...]:
    """Return every record's positions on one scale, which holds the largest value of all.

    None for a record without a bar, and for all where they are not of one unit and sense.
    """
    pairs = list(zip(found.records, found.criteria, strict=True))
    sold = [None if c is None else sold_bps(r.tier, c) for r, c in pairs]
    reach = [None if c is None else reach_of(c, s) for (_, c), s in zip(pairs, sold, strict=True)]
    longest = max((r for r in reach if r is not None), default=None)
    if longest is None or len({(c.unit, c.sense) for c in found.known}) > 1:
        return (None,) * len(pairs)
    return tuple(
        None if c is None or r is None else scale_on(c, s, longest)
        for (_, c), s, r in zip(pairs, sold, reach, strict=True)
    )


def _lifted(bars: Sequence[Bar]) -> tuple[tuple[str, ...], tuple[Bar, ...]]:
    """Return what stands alike in every bar, to be said once, and the bars without it."""
    limit, sold = (_shared([getattr(b, name) for b in bars]) for name in ("limit", "sold"))
    sample, note = (_shared([getattr(b, name) for b in bars]) for name in ("sample", "note"))
    cells = tuple(
        replace(
            bar,
            limit="" if limit else bar.limit,
            sold="" if sold else bar.sold,
            sample="" if sample else bar.sample,
            note="" if note else bar.note,
        )
        for bar in bars
    )
    told = (limit, f"{words.LABEL['sold']} {sold}" if sold else "", sample)
    return tuple(text for text in told if text), cells


def _shared(texts: Sequence[str]) -> str:
    """Return the text that all have, empty where they differ."""
    return texts[0] if len(set(texts)) == 1 else ""


def _change(found: Found) -> Change:
    """Return how the figure changed, and that the limit did where both had one."""
    first, last = found.criteria[0], found.criteria[-1]
    if found.known[0].name in words.YES_NO:
        return _answered(first, last)
    counts = found.known[0].unit == "count"
    text = (said.COUNT_TOLD if counts else said.TOLD)[found.apart]
    if first and last and None not in (first.limit, last.limit) and first.limit != last.limit:
        text = said.OTHER_LIMIT.format(told=text)
    told = found.apart in BEYOND
    return Change(text=text, told=told, figure=told, apart=apart_of(first, last))


def _answered(first: Criterion | None, last: Criterion | None) -> Change:
    """Return whether an answer, which has no interval, is another one."""
    answers = [None if c is None or c.measured is None else c.measured >= 1 for c in (first, last)]
    if None in answers:
        return Change(text=said.TOLD["open"])
    told = answers[0] != answers[1]
    return Change(text=said.CHANGED if told else "", told=told, figure=told)


def apart_of(first: Criterion | None, last: Criterion | None) -> Apart | None:
    """Return both intervals on a scale that they just fill, None where one has none."""
    if first is None or last is None or difference(first, last) == "open":
        return None
    points = [(c.low, c.measured, c.high) for c in (first, last)]
    known = [point for three in points for point in three if point is not None]
    low, span = min(known), max(known) - min(known)
    if len(known) < len(points) * 3 or span <= 0 or first.unit == "count":
        return None
    ends = [_interval(three, low, span) for three in points]
    return Apart(first=ends[0], last=ends[1])


def _interval(three: Sequence[float | None], low: float, span: float) -> Interval:
    began, value, end = ((point - low) / span for point in three if point is not None)
    return Interval(low=began, value=value, high=end)
