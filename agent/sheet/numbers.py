"""The only place that rounds: digits follow the interval, and no value crosses its limit."""

from __future__ import annotations

import math
from dataclasses import dataclass

from agent.record import Sense
from agent.sheet.catalogue import words
from agent.sheet.formats import place

DASH = "\N{EN DASH}"
MINUS = "\N{MINUS SIGN}"
# A space that keeps a number and its unit, and groups of thousands, on one line.
TIE = "\N{NO-BREAK SPACE}"

PLAIN_DIGITS = 3
MOST_DECIMALS = 9
# Stamps are not worth more than hundredths of a millisecond on an ordinary laptop, and what took
# seconds need not be told in milliseconds.
FINEST = {"ms": 2, "s": 1}
KILO, GIGA = 1e3, 1e9
UNGROUPED_BELOW = 100_000

UNIT = {"bps": "Mbit/s", "ratio": "%", "ms": "ms", "s": "s", "count": ""}
FACTOR = {"bps": 1e-6, "ratio": 100.0, "ms": 1.0, "s": 1.0, "count": 1.0}


@dataclass(frozen=True, slots=True, kw_only=True)
class Judged:
    """A judged number as it is printed: value, interval and limit share decimals and unit."""

    value: str
    interval: str | None
    limit: str | None
    unit: str


def decimals_for(width: float | None, value: float) -> int:
    """Return the decimals a value deserves: one significant digit of the half-interval.

    JCGM 100 §7.2.6 allows at most two digits of an uncertainty, and a value no finer than it.
    Without an interval, three significant digits, and none after the point of a whole number.
    """
    if width is not None and width > 0:
        return max(0, min(MOST_DECIMALS, -math.floor(math.log10(width / 2))))
    if value == int(value):
        return 0
    return max(0, min(MOST_DECIMALS, PLAIN_DIGITS - 1 - math.floor(math.log10(abs(value)))))


def fixed(value: float, decimals: int) -> str:
    """Return the number with that many decimals, by the decimal sign of the page's place.

    Thousands stand in groups from six digits on, a space between them (ISO 80000-1 §7.3.1).
    """
    grouped = "," if abs(value) >= UNGROUPED_BELOW else ""
    text = f"{abs(value):{grouped}.{decimals}f}".replace(",", TIE).replace(".", place().decimal)
    negative = value < 0 and any(digit in text for digit in "123456789")
    return MINUS + text if negative else text


def trimmed(text: str) -> str:
    """Return the text of a number without needless zeros after its decimal sign."""
    sign = place().decimal
    return text.rstrip("0").rstrip(sign) if sign in text else text


def plain_rate(rate_bps: float) -> str:
    """Return a rate that was stated, not measured, in Mbit/s without needless zeros."""
    return trimmed(fixed(rate_bps * FACTOR["bps"], PLAIN_DIGITS))


def port_speed(speed_bps: float) -> str:
    """Return the speed of a port as its kind is named: in Gbit/s from one on."""
    if speed_bps >= GIGA:
        return with_unit(plain_rate(speed_bps / KILO), "Gbit/s")
    return with_unit(plain_rate(speed_bps), UNIT["bps"])


def count_of(count: int, of: int) -> str:
    """Return how many of how many, kept on one line."""
    return words.COUNT_OF.format(count=count, total=of)


def with_unit(text: str, unit: str) -> str:
    """Return number and unit as the page writes them."""
    return f"{text}{TIE}{unit}" if unit else text


def quantity(value: float | None, unit: str, width: float | None = None) -> str:
    """Return a value of a record unit (bps, ratio, ms, s, count) as printed; a dash for None."""
    if value is None:
        return DASH
    return with_unit(number(value, unit, width), UNIT[unit])


def number(value: float | None, unit: str, width: float | None = None) -> str:
    """Return the same without the unit, for a column whose head names it."""
    if value is None:
        return DASH
    scaled, wide = value * FACTOR[unit], None if width is None else width * FACTOR[unit]
    return fixed(scaled, _capped(decimals_for(wide, scaled), unit))


def limit_text(value: float, unit: str) -> str:
    """Return a limit that stands alone, without needless zeros."""
    return with_unit(_short(value * FACTOR[unit], 0), UNIT[unit])


def judged(
    value: float,
    low: float | None = None,
    high: float | None = None,
    *,
    limit: float | None = None,
    unit: str,
    sense: Sense,
) -> Judged:
    """Return value, interval and limit printed so that each stands on its true side of the limit.

    More decimals are used until it does; equality counts as kept, as in the judgement itself.
    """
    factor = FACTOR[unit]
    points = [point * factor for point in (value, low, high) if point is not None]
    bound = None if limit is None else limit * factor
    decimals = _capped(decimals_for(_width(low, high, factor), points[0]), unit)
    if bound is not None:
        decimals = _kept_apart(points, bound, decimals, sense)
    spread = None
    if low is not None and high is not None and low < high:
        spread = f"{fixed(low * factor, decimals)}{DASH}{fixed(high * factor, decimals)}"
    return Judged(
        value=with_unit(fixed(points[0], decimals), UNIT[unit]),
        interval=spread,
        limit=None if bound is None else with_unit(_short(bound, decimals), UNIT[unit]),
        unit=UNIT[unit],
    )


def _capped(decimals: int, unit: str) -> int:
    return min(FINEST.get(unit, MOST_DECIMALS), decimals)


def _width(low: float | None, high: float | None, factor: float) -> float | None:
    return None if low is None or high is None else (high - low) * factor


def _kept_apart(points: list[float], bound: float, decimals: int, sense: Sense) -> int:
    for more in range(decimals, MOST_DECIMALS):
        shown = float(_digits(bound, more))
        if all(
            _kept(point, bound, sense) == _kept(round(point, more), shown, sense)
            for point in points
        ):
            return more
    return MOST_DECIMALS


def _kept(value: float, bound: float, sense: Sense) -> bool:
    return value >= bound if sense is Sense.AT_LEAST else value <= bound


def _digits(bound: float, decimals: int) -> str:
    """Return the limit's digits: at least three significant, never fewer than the value has."""
    enough = max(decimals, decimals_for(None, bound))
    return f"{bound:.{enough}f}"


def _short(bound: float, decimals: int) -> str:
    enough = max(decimals, decimals_for(None, bound))
    return trimmed(fixed(bound, enough))
