"""What the columns of a comparison are called: whatever tells the records apart."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime

from agent.record import Record
from agent.sheet.catalogue import compare as said
from agent.sheet.catalogue import words
from agent.sheet.formats import long_date
from agent.sheet.when import moment
from agent.sheet.wording import SHORT, bounded, word

PAIR = 2


def column_labels(records: Sequence[Record]) -> tuple[str, ...]:
    """Return a name for each column, no two alike: the spot, the equipment, else the moment."""
    spots = [bounded(r.visit.spot or "", SHORT) for r in records]
    plugged = [word(words.PLUGGED, r.visit.plugged_into) for r in records]
    if all(spots) and _distinct(spots):
        return tuple(spots)
    if _distinct(plugged):
        return tuple(plugged)
    places = [spot or port for spot, port in zip(spots, plugged, strict=True)]
    shown = places if len(set(places)) > 1 else [""] * len(places)
    for which in (_by_turn, _by_clock, _by_day):
        names = [_joined(*pair) for pair in zip(shown, which(records, places), strict=True)]
        if all(names) and _distinct(names):
            return tuple(names)
    return tuple(said.NUMBERED.format(number=n) for n in range(1, len(records) + 1))


def in_order(records: Sequence[Record]) -> bool | None:
    """Return whether the first was measured before the last, None where that cannot be told."""
    first, last = _moment(records[0]), _moment(records[-1])
    return None if first is None or last is None or first == last else first < last


def _distinct(names: Sequence[str]) -> bool:
    return len(set(names)) == len(names)


def _joined(place: str, which: str) -> str:
    return said.TWICE.format(place=place, which=which) if place and which else place or which


def _moment(record: Record) -> datetime | None:
    return moment(record.started, record.utc_offset_min)


def _by_turn(records: Sequence[Record], places: Sequence[str]) -> list[str]:
    """Return before and after where two records are of one place, nothing for one alone."""
    turns = [""] * len(records)
    for place in set(places):
        twins = [at for at, one in enumerate(places) if one == place]
        if len(twins) > 1 and not _are_turns([records[at] for at in twins]):
            return [""] * len(records)
        for at, turn in zip(twins, (said.BEFORE, said.AFTER), strict=False):
            turns[at] = turn if len(twins) > 1 else ""
    return turns if len(set(places)) == 1 else [turn.lower() for turn in turns]


def _are_turns(twins: Sequence[Record]) -> bool:
    return len(twins) == PAIR and in_order(twins) is True


def _by_clock(records: Sequence[Record], places: Sequence[str]) -> list[str]:
    """Return the time of day, nothing where the records are of several days."""
    moments = [m for r in records if (m := _moment(r)) is not None]
    if len(moments) < len(places) or len({m.date() for m in moments}) > 1:
        return [""] * len(places)
    return [f"{m:%H:%M}" for m in moments]


def _by_day(records: Sequence[Record], places: Sequence[str]) -> list[str]:
    """Return day and time."""
    moments = [m for r in records if (m := _moment(r)) is not None]
    if len(moments) < len(places):
        return [""] * len(places)
    return [f"{long_date(m)}, {m:%H:%M}" for m in moments]
