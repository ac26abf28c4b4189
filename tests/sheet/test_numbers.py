"""Rounding: JCGM 100:2008 §7.2.6 (digits follow the uncertainty); the rest is our own rule."""

import re

import pytest
from hypothesis import given
from hypothesis import strategies as st

from agent.record import Sense
from agent.sheet.numbers import DASH, judged, number, port_speed, quantity

finite = st.floats(min_value=0, max_value=1e11, allow_nan=False)


def plainly(text):
    return text.replace("\xa0", " ").replace(DASH, "-")


def _plain(text):
    return float(re.sub(r"[^\d.]", "", text.replace("\u2212", "-")))


@pytest.mark.parametrize(
    ("value", "low", "high", "limit", "unit", "shown"),
    [
        (94.13e6, 93.8e6, 94.5e6, 92.5e6, "bps", ("94.1 Mbit/s", "93.8-94.5", "92.5 Mbit/s")),
        # A plain rounding to tenths would print 95.0 against 95 and hide the miss.
        (94.96e6, 94.6e6, 95.3e6, 95e6, "bps", ("94.96 Mbit/s", "94.60-95.30", "95 Mbit/s")),
        (0.0, 0.0, 0.0048, 0.005, "ratio", ("0.0 %", "0.0-0.5", "0.5 %")),
        (0.0, 0.0, 0.0052, 0.005, "ratio", ("0.00 %", "0.00-0.52", "0.5 %")),
        (14.23, 14.12, 14.31, 15.0, "ms", ("14.23 ms", "14.12-14.31", "15 ms")),
        (9.8e9, 9.5e9, 1.01e10, 1e10, "bps", ("9800 Mbit/s", "9500-10100", "10000 Mbit/s")),
        (30_000.0, 29_000.0, 31_000.0, 15.0, "ms", ("30000 ms", "29000-31000", "15 ms")),
    ],
)
def test_judged_numbers(value, low, high, limit, unit, shown):  # noqa: PLR0917 - a case table
    sense = Sense.AT_LEAST if unit == "bps" else Sense.AT_MOST
    text = judged(value, low, high, limit=limit, unit=unit, sense=sense)
    assert tuple(plainly(p) for p in (text.value, text.interval, text.limit)) == shown


@given(finite, finite, st.sampled_from(list(Sense)), st.sampled_from(["bps", "ratio", "ms"]))
def test_no_value_is_printed_across_its_limit(value, limit, sense, unit):
    text = judged(value, value * 0.99, value * 1.01, limit=limit, unit=unit, sense=sense)
    shown, bound = _plain(text.value), _plain(text.limit)
    kept = value >= limit if sense is Sense.AT_LEAST else value <= limit
    # Beyond nine decimals the two are the same number to any reader.
    if abs(value - limit) > 1e-6 * max(abs(value), abs(limit)) and abs(value - limit) > 1e-3:
        assert (shown >= bound if sense is Sense.AT_LEAST else shown <= bound) is kept


@given(st.floats(0.001, 1e5), st.floats(1e-4, 1e3))
def test_decimals_are_no_finer_than_half_the_interval(value, width):
    text = judged(value, value, value + width, unit="ms", sense=Sense.AT_MOST)
    decimals = len(text.value.split()[0].partition(".")[2])
    assert decimals == 0 or 10.0**-decimals >= width / 20


@pytest.mark.parametrize(
    ("value", "unit", "shown"),
    [
        (None, "ms", DASH),
        (0.0, "ratio", "0 %"),
        (1e9, "bps", "1000 Mbit/s"),
        (25e9, "bps", "25000 Mbit/s"),
        (2.5e11, "bps", "250 000 Mbit/s"),
        (0.42719, "ms", "0.43 ms"),
        (1234.5, "ms", "1234 ms"),
    ],
)
def test_quantities_without_interval(value, unit, shown):
    assert quantity(value, unit).replace("\xa0", " ") == shown


def test_a_column_has_the_same_digits_without_the_unit():
    assert number(0.0123, "ratio") == quantity(0.0123, "ratio").split("\xa0")[0]


@pytest.mark.parametrize(
    ("speed_bps", "shown"),
    [(10e6, "10 Mbit/s"), (100e6, "100 Mbit/s"), (1e9, "1 Gbit/s"), (2.5e9, "2.5 Gbit/s")],
)
def test_ports_are_named_as_their_kind_is(speed_bps, shown):
    """IEEE 802.3 speeds, as the trade says them."""
    assert plainly(port_speed(speed_bps)) == shown
