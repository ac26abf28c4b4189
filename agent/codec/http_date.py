"""Dates in HTTP fields (RFC 9110 §5.6.7): all three forms that a recipient must take."""

from __future__ import annotations

import re
from datetime import UTC, datetime

_MONTHS = ("Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec")
_TIME = r"(?P<hour>[0-9]{2}):(?P<minute>[0-9]{2}):(?P<second>[0-9]{2})"
_DAY = r"(?P<day>[0-9]{2})"
_MONTH = r"(?P<month>[A-Z][a-z]{2})"
_YEAR = r"(?P<year>[0-9]{4})"
_FORMS = (
    re.compile(rf"[A-Z][a-z]{{2}}, {_DAY} {_MONTH} {_YEAR} {_TIME} GMT"),
    re.compile(rf"[A-Z][a-z]{{5,8}}, {_DAY}-{_MONTH}-(?P<year>[0-9]{{2}}) {_TIME} GMT"),
    re.compile(rf"[A-Z][a-z]{{2}} {_MONTH} (?P<day>[ 0-9][0-9]) {_TIME} {_YEAR}"),
)
_LONGEST = 40
# Years of two digits that seem further ahead than this lie in the past (RFC 9110 §5.6.7).
_AHEAD_YEARS = 50


def read_http_date(text: str, year_now: int) -> datetime | None:
    """Return the moment of an HTTP date, None where it is none.

    `year_now` places a year of two digits.
    """
    if len(text) > _LONGEST:
        return None
    found = next(filter(None, (form.fullmatch(text.strip()) for form in _FORMS)), None)
    if found is None or found["month"] not in _MONTHS:
        return None
    # A leap second is the last that the calendar here knows.
    second = min(59, int(found["second"]))
    try:
        return datetime(
            _year(found["year"], year_now),
            _MONTHS.index(found["month"]) + 1,
            int(found["day"]),
            int(found["hour"]),
            int(found["minute"]),
            second,
            tzinfo=UTC,
        )
    except ValueError:
        return None


def _year(text: str, year_now: int) -> int:
    if len(text) > 2:
        return int(text)
    year = year_now - year_now % 100 + int(text)
    return year - 100 if year > year_now + _AHEAD_YEARS else year
