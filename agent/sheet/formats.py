"""Signs of numbers and forms of dates in the place that a sheet is written for, from the CLDR."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from functools import cache
from typing import TYPE_CHECKING

from agent.sheet.catalogue import language, locale_tag

if TYPE_CHECKING:
    from babel import Locale


@dataclass(frozen=True, slots=True, kw_only=True)
class Place:
    """What a locale changes in a page: the decimal sign, and where a line begins."""

    decimal: str
    direction: str


def place() -> Place:
    """Return what the locale that is being spoken changes."""
    return _place(locale_tag())


def long_date(day: datetime) -> str:
    """Return a date with its month in letters, so that nobody reads it the other way round."""
    from babel.dates import format_date  # noqa: PLC0415 - as below

    return str(format_date(day, "long", locale=_locale(locale_tag())))


@cache
def _place(tag: str) -> Place:
    locale = _locale(tag)
    decimal = locale.number_symbols["latn"]["decimal"]
    return Place(decimal=str(decimal), direction=locale.text_direction)


def _locale(tag: str) -> Locale:
    """Return the locale of a tag, that of its language where the tag is unknown."""
    from babel import Locale, UnknownLocaleError  # noqa: PLC0415 - only a page needs it

    try:
        return Locale.parse(tag, sep="-")
    except (UnknownLocaleError, ValueError):
        return Locale.parse(language())
