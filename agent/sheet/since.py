"""What the page says of an earlier visit: a comment beside the findings, never one of them."""

from __future__ import annotations

from dataclasses import replace

from agent.record import Change, Criterion, Difference, Record, Since
from agent.sheet.bars import criterion_text, label_of
from agent.sheet.catalogue import since, words
from agent.sheet.model import Listing
from agent.sheet.numbers import DASH, port_speed
from agent.sheet.when import local_time_of
from agent.sheet.wording import bounded, more, word

MOST_LINES = 4


def since_listing(record: Record) -> Listing | None:
    """Return how the visit compares with the earlier one, None where none was named."""
    found = record.since
    if found is None:
        return None
    when = local_time_of(found.started, found.utc_offset_min)
    lines = [*(_changed(one) for one in found.changes), *_figures(record, found)]
    return Listing(
        title=since.TITLE.format(when=when),
        items=tuple(lines[:MOST_LINES]),
        more=more(len(lines) - MOST_LINES),
    )


def _figures(record: Record, found: Since) -> list[str]:
    if found.differences:
        return [_differs(record, one) for one in found.differences]
    if not found.compared:
        return [since.NOT_COMPARED]
    return [since.NOTHING.format(count=found.compared)]


def _differs(record: Record, one: Difference) -> str:
    named = [c for c in record.assessment.criteria if c.name == one.name]
    like = next((c for c in named if c.needed), named[0] if named else None)
    if like is None:
        label, then, now = bounded(one.name), DASH, DASH
    else:
        label = label_of(like)
        then = _shown(like, one.then, one.then_low, one.then_high)
        now = _shown(like, one.now, one.now_low, one.now_high)
    return since.DIFFERS.format(label=label, then=then, now=now)


def _shown(like: Criterion, measured: float, low: float, high: float) -> str:
    answers = words.YES_NO.get(like.name)
    if answers:
        return answers[measured >= 1]
    text = criterion_text(replace(like, measured=measured, low=low, high=high))
    return text.value if text else DASH


def _changed(change: Change) -> str:
    return since.CHANGED.format(
        what=word(since.WHAT, change.what),
        then=_circumstance(change.what, change.then),
        now=_circumstance(change.what, change.now),
    )


def _circumstance(what: str, value: str | None) -> str:
    if value is None:
        return words.NONE_GIVEN
    if what == "plugged-into":
        return word(words.PLUGGED, value)
    if what == "port" and value.isdecimal():
        return port_speed(int(value[:15]))
    return bounded(value)
