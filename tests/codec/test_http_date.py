"""HTTP dates against the examples of RFC 9110 §5.6.7 and a foreign writer."""

from datetime import UTC, datetime, timedelta
from email.utils import format_datetime

import pytest
from hypothesis import given
from hypothesis import strategies as st

from agent.codec.http_date import read_http_date

EXAMPLE = datetime(1994, 11, 6, 8, 49, 37, tzinfo=UTC)


@pytest.mark.parametrize(
    "text",
    [
        "Sun, 06 Nov 1994 08:49:37 GMT",
        "Sunday, 06-Nov-94 08:49:37 GMT",
        "Sun Nov  6 08:49:37 1994",
    ],
)
def test_the_three_forms_of_the_standard(text):
    assert read_http_date(text, 2026) == EXAMPLE


@pytest.mark.parametrize(("year", "meant"), [("94", 1994), ("76", 2076), ("77", 1977)])
def test_two_digits_are_never_more_than_fifty_years_ahead(year, meant):
    assert read_http_date(f"Sunday, 06-Nov-{year} 08:49:37 GMT", 2026).year == meant


@pytest.mark.parametrize(
    "text",
    [
        "",
        "Sun, 06 Nov 1994 08:49:37",
        "Sun, 06 Nov 1994 08:49:37 CET",
        "Sun, 31 Feb 2026 08:49:37 GMT",
        "Sun, 06 Nov 0000 08:49:37 GMT",
        "Sun, 06 Xyz 1994 08:49:37 GMT",
        "Sun, 06 Nov 1994 25:49:37 GMT",
        "Sun, 06 Nov 1994 08:49:37 GMT" + " " * 400,
        "1994-11-06T08:49:37Z",
        "Sun, \u0660\u0666 Nov 1994 08:49:37 GMT",
    ],
)
def test_what_is_no_date_is_none(text):
    assert read_http_date(text, 2026) is None


def test_a_leap_second_is_a_date():
    """RFC 9110 §5.6.7: second = 2DIGIT, 60 for a leap second."""
    assert read_http_date("Sat, 31 Dec 2016 23:59:60 GMT", 2026) is not None


@given(st.integers(min_value=-2_208_988_800, max_value=253_402_300_799))
def test_what_another_writer_writes_is_read(seconds):
    """From 1900 to 9999, seconds since 1970."""
    moment = datetime(1970, 1, 1, tzinfo=UTC) + timedelta(seconds=seconds)
    assert read_http_date(format_datetime(moment, usegmt=True), 2026) == moment
