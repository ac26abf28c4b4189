"""Readings taken by hand: from what was typed to the record, with the range that is usual there."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import replace
from decimal import Decimal
from enum import StrEnum
from typing import TypeVar

from agent.errors import UsageError
from agent.measurements.by_hand import BARE, DBUV_ABOVE_DBMV, FIGURES, ReadAt, ReadWhat
from agent.record.model import Reading
from agent.settings.allowed import closest
from agent.settings.model import Access, Settings
from agent.settings.usual import UsualRange, UsualSet

MOST = 24
"""Readings of one visit; who has more writes a report of their own."""

_OPTION = "--reading"
_SHOWN = 60
_FEWEST_WORDS = 3
_USUAL_EXAMPLE = "modem downstream-level 3.1 dBmV"
_EXAMPLES = {
    ReadWhat.DOWNSTREAM_LEVEL: _USUAL_EXAMPLE,
    ReadWhat.DOWNSTREAM_SNR: "modem downstream-snr 38.5 dB",
    ReadWhat.UPSTREAM_LEVEL: "modem upstream-level 43 dBmV",
    ReadWhat.UNCORRECTABLE_RATIO: "modem uncorrectable-ratio 3e-7",
    ReadWhat.TIMEOUTS: "modem timeouts 0",
    ReadWhat.OPTICAL_RECEIVE: "ont optical-receive -19.4 dBm",
    ReadWhat.DSL_MARGIN_DOWN: "modem dsl-margin-down 8.5 dB",
    ReadWhat.DSL_MARGIN_UP: "modem dsl-margin-up 7 dB",
    ReadWhat.DSL_SYNC_DOWN: "modem dsl-sync-down 109.9 Mbit/s",
    ReadWhat.DSL_SYNC_UP: "modem dsl-sync-up 42 Mbit/s",
    ReadWhat.RADIO_RSRP: "modem radio-rsrp -92 dBm",
    ReadWhat.RADIO_SINR: "modem radio-sinr 14 dB",
}
_PLACES = "WHERE is tap, entry (ground block, NID), outlet (wall plate), modem or ont."

_NUMBER = r"[+-]?[0-9]{1,12}(?:[.,][0-9]{1,12})?(?:[eE][+-]?[0-9]{1,2})?"
_FIGURE = re.compile(rf"({_NUMBER}) ?([^\s0-9]*)")
# What pages print: a minus sign or dash for a hyphen, and either of two letters for micro.
_TYPED = str.maketrans(
    {
        "\N{MINUS SIGN}": "-",
        "\N{EN DASH}": "-",
        "\N{MICRO SIGN}": "u",
        "\N{GREEK SMALL LETTER MU}": "u",
    }
)

_Code = TypeVar("_Code", bound=StrEnum)


def readings_of(texts: Sequence[str], settings: Settings, access: Access) -> tuple[Reading, ...]:
    """Return the readings of what was typed, in that order, each with its usual range.

    Raises UsageError for the first that cannot be used, and for more than `MOST`.
    """
    if len(texts) > MOST:
        raise UsageError(
            problem=f"{_OPTION} was given {len(texts)} times; a visit keeps at most {MOST}.",
            remedy="Keep the last sound place and the first bad one of each kind.",
        )
    return with_usual(tuple(map(reading_of, texts)), settings, access)


def with_usual(
    readings: Sequence[Reading], settings: Settings, access: Access
) -> tuple[Reading, ...]:
    """Return the readings with the ranges that the settings hold for such a line, or with none."""
    ranges = settings.usual.get(access) or UsualSet()
    return tuple(_ranged(one, ranges.of(one.where, one.what)) for one in readings)


def reading_of(text: str) -> Reading:
    """Return the reading of "WHERE WHAT VALUE UNIT", without a range. Raises UsageError.

    Case does not matter, a decimal comma is taken, a level in dBµV is kept in dBmV.
    """
    where, what, figure = _parts(text)
    place = _code(ReadAt, where)
    if place is None:
        raise _refused(text, f'"{_short(where)}" is no place', _PLACES)
    kind = _code(ReadWhat, what)
    if kind is None:
        raise _refused(text, f'"{_short(what)}" is no kind of reading', _kinds_like(what))
    value = _value(text, kind, figure)
    return Reading(where=place.value, what=kind.value, value=value, unit=FIGURES[kind].unit)


def _ranged(reading: Reading, usual: UsualRange | None) -> Reading:
    return replace(
        reading,
        usual_low=usual.low if usual else None,
        usual_high=usual.high if usual else None,
        source=usual.source if usual else None,
    )


def _parts(text: str) -> tuple[str, str, str]:
    words = text.translate(_TYPED).split()
    if len(words) < _FEWEST_WORDS:
        raise _refused(text, "something is missing")
    return words[0], words[1], " ".join(words[2:])


def _code(codes: type[_Code], typed: str) -> _Code | None:
    return next((code for code in codes if code.value == typed.lower()), None)


def _kinds_like(what: str) -> str:
    close = closest(what.lower(), [kind.value for kind in ReadWhat], 1)
    return f"Did you mean {close[0]}?" if close else f"WHAT is one of {', '.join(ReadWhat)}."


def _value(text: str, kind: ReadWhat, figure: str) -> float:
    found = _FIGURE.fullmatch(figure)
    if found is None:
        raise _refused(text, f'"{_short(figure)}" is no number with its unit', kind=kind)
    digits, unit = found[1], found[2]
    if FIGURES[kind].unit == "count" and not digits.isdecimal():
        raise _refused(text, f"{kind.value} is a whole number", kind=kind)
    value = float(_in_our_unit(text, kind, Decimal(digits.replace(",", ".")), unit))
    known = FIGURES[kind]
    if not known.lowest <= value <= known.highest:
        span = f"{known.lowest:g} to {known.highest:g}{_behind(known.unit)}"
        raise _refused(text, f"{value:g}{_behind(known.unit)} is beyond {span}", kind=kind)
    return value


def _in_our_unit(text: str, kind: ReadWhat, number: Decimal, unit: str) -> Decimal:
    ours, typed = FIGURES[kind].unit, unit.lower()
    if ours in BARE:
        if typed:
            raise _refused(text, f"{kind.value} has no unit", kind=kind)
        return number
    if typed == ours.lower():
        return number
    if ours == "dBmV" and typed == "dbuv":
        return number - DBUV_ABOVE_DBMV
    accepted = "dBmV or dBuV" if ours == "dBmV" else ours
    told = f'not "{_short(unit)}"' if unit else "and none is given"
    raise _refused(text, f"the unit of {kind.value} is {accepted}, {told}", kind=kind)


def _behind(unit: str) -> str:
    return "" if unit in BARE else f" {unit}"


def _short(text: str) -> str:
    return text if len(text) <= _SHOWN else f"{text[:_SHOWN]}…"


def _refused(text: str, why: str, hint: str = "", *, kind: ReadWhat | None = None) -> UsageError:
    example = _EXAMPLES[kind] if kind else _USUAL_EXAMPLE
    form = f'Write WHERE WHAT VALUE UNIT, such as {_OPTION} "{example}".'
    return UsageError(
        problem=f'{_OPTION} "{_short(text)}": {why}.', remedy=f"{hint} {form}".strip()
    )
