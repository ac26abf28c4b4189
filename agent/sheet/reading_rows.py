"""The page's block of what was read by meter or from the equipment's own page, and where."""

from __future__ import annotations

from agent.record import Reading, Record
from agent.sheet.catalogue import readings
from agent.sheet.model import Pair, Pairs
from agent.sheet.numbers import (
    FACTOR,
    MOST_DECIMALS,
    UNIT,
    decimals_for,
    fixed,
    trimmed,
    with_unit,
)
from agent.sheet.wording import LINE, SHORT, bounded, more, word

MOST_ROWS = 6
LEAST_DECIMALS = 2
BARE = ("ratio", "count")


def reading_block(record: Record) -> Pairs:
    """Return each reading with its usual range and whether it lies within; no pairs for none."""
    found = record.visit.readings
    return Pairs(
        title=readings.TITLE,
        pairs=tuple(_pair(one) for one in found[:MOST_ROWS]),
        more=more(len(found) - MOST_ROWS),
    )


def _pair(reading: Reading) -> Pair:
    where, what = word(readings.PLACE, reading.where), word(readings.KIND, reading.what)
    label = readings.LABEL.format(where=where, what=what)
    value = _said(reading)
    return Pair(
        label=bounded(label, LINE), value=value if len(value) <= LINE else bounded(value, LINE)
    )


def _said(reading: Reading) -> str:
    return readings.USUAL[reading.within_usual].format(
        value=with_unit(_plain(reading.value, reading), _unit(reading)), usual=_usual(reading)
    )


def _usual(reading: Reading) -> str:
    """Return the usual range; ends on both sides of zero both show their sign."""
    low, high = reading.usual_low, reading.usual_high
    if low is None or high is None:
        form = readings.UP_TO if low is None else readings.FROM
        end = high if low is None else low
        return "" if end is None else form.format(end=_plain(end, reading))
    if low == high:
        return _plain(low, reading)
    sign = "+" if low < 0 < high else ""
    return readings.BETWEEN.format(low=_plain(low, reading), high=sign + _plain(high, reading))


def _plain(value: float, reading: Reading) -> str:
    """Return a figure to its hundredth, finer where it is small or would cross an end so."""
    factor = FACTOR[reading.unit] if reading.unit in BARE else 1.0
    scaled = value * factor
    ends = [end * factor for end in (reading.usual_low, reading.usual_high) if end is not None]
    least = max(LEAST_DECIMALS, decimals_for(None, scaled))
    return trimmed(fixed(scaled, _apart(scaled, ends, least)))


def _apart(value: float, ends: list[float], least: int) -> int:
    for decimals in range(least, MOST_DECIMALS):
        shown = round(value, decimals)
        if all((shown > end, shown < end) == (value > end, value < end) for end in ends):
            return decimals
    return MOST_DECIMALS


def _unit(reading: Reading) -> str:
    return UNIT[reading.unit] if reading.unit in BARE else bounded(reading.unit, SHORT)
