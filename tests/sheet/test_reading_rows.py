"""The page's block of readings: where and what, the figure, and in words how usual it is."""

from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st
from records import healthy

from agent.measurements.by_hand import FIGURES, ReadAt, ReadWhat
from agent.record import Reading
from agent.record.seal import redact, seal
from agent.sheet.catalogue import readings, speaking
from agent.sheet.numbers import MINUS, TIE
from agent.sheet.reading_rows import MOST_ROWS, reading_block
from agent.sheet.wording import LINE

LEVEL = Reading(
    where="modem",
    what="downstream-level",
    value=3.1,
    unit="dBmV",
    usual_low=-8.0,
    usual_high=8.0,
    source="common practice, no source",
)


def block(*taken):
    record = healthy()
    return reading_block(replace(record, visit=replace(record.visit, readings=taken)))


def said(**changes):
    (pair,) = block(replace(LEVEL, **changes)).pairs
    return pair.value.replace(TIE, " ").replace(MINUS, "-")


def test_nothing_read_is_a_block_without_rows():
    assert block().pairs == ()
    assert block().more == ""


def test_a_row_names_the_place_and_the_kind():
    labels = [pair.label for pair in block(LEVEL, replace(LEVEL, where="outlet")).pairs]
    assert labels == ["Modem: downstream level", "Wall plate: downstream level"]


@pytest.mark.parametrize(
    ("changes", "expected"),
    [
        ({}, "3.1 dBmV, within the usual range (-8 to +8)"),
        ({"value": -8.0}, "-8 dBmV, within the usual range (-8 to +8)"),
        ({"value": 9.25}, "9.25 dBmV, outside the usual range (-8 to +8)"),
        # The printed figure stands on its own side of the range.
        ({"value": 8.0004}, "8.0004 dBmV, outside the usual range (-8 to +8)"),
        ({"value": 7.99996}, "7.99996 dBmV, within the usual range (-8 to +8)"),
        ({"usual_low": None, "usual_high": None}, "3.1 dBmV; no usual range"),
        (
            {"value": -19.4, "unit": "dBm", "usual_low": -25.0, "usual_high": -8.0},
            "-19.4 dBm, within the usual range (-25 to -8)",
        ),
        (
            {"value": 34.5, "unit": "dB", "usual_low": 35.0, "usual_high": None},
            "34.5 dB, outside the usual range (35 or more)",
        ),
        (
            {"value": 3e-7, "unit": "ratio", "usual_low": None, "usual_high": 1e-6},
            "0.00003 %, within the usual range (0.0001 or less)",
        ),
        (
            {"value": 2.0, "unit": "count", "usual_low": 0.0, "usual_high": 0.0},
            "2, outside the usual range (0)",
        ),
        (
            {"value": 1109.92, "unit": "Mbit/s", "usual_low": None, "usual_high": None},
            "1109.92 Mbit/s; no usual range",
        ),
    ],
)
def test_the_figure_stands_as_stated_with_the_usual_range_in_words(changes, expected):
    assert said(**changes) == expected


@given(
    value=st.decimals(-20, 20, places=4).map(float),
    low=st.decimals(-9, 0, places=1).map(float),
    high=st.decimals(0, 9, places=1).map(float),
)
def test_the_words_are_true_of_the_printed_figures(value, low, high):
    text = said(value=value, usual_low=low, usual_high=high)
    figure, _, rest = text.partition(" dBmV, ")
    ends = rest.partition("(")[2].rstrip(")").split(" to ")
    inside = float(ends[0]) <= float(figure) <= float(ends[-1])
    assert rest.startswith("within" if inside else "outside")
    assert float(figure) == pytest.approx(value, abs=0.005)


@pytest.mark.parametrize(("count", "left"), [(6, ""), (7, "1"), (24, "18")])
def test_six_stand_on_the_page_and_the_rest_is_counted(count, left):
    found = block(*[replace(LEVEL, value=float(n)) for n in range(count)])
    assert len(found.pairs) == MOST_ROWS
    assert found.pairs[0].value.startswith(f"0{TIE}dBmV")
    assert [word for word in found.more.split() if word.isdigit()] == ([left] if left else [])


def test_every_place_and_kind_has_words_and_fits_its_line():
    assert set(ReadAt) == set(readings.PLACE)
    assert set(ReadWhat) == set(readings.KIND)
    for kind, figure in FIGURES.items():
        for place in ReadAt:
            reading = replace(LEVEL, where=place.value, what=kind.value, unit=figure.unit)
            (pair,) = block(reading).pairs
            assert place.value not in pair.label.split()
            assert len(pair.label) <= LINE / 2


@pytest.mark.parametrize("text", ["W" * 400, "<b>\x1b[31m\N{RIGHT-TO-LEFT OVERRIDE}", "a\nb"])
def test_codes_nobody_knows_are_one_harmless_line(text):
    (pair,) = block(replace(LEVEL, where=text, what=text, unit=text)).pairs
    for line in (pair.label, pair.value):
        assert line.replace(TIE, " ").isprintable()
        assert len(line) <= LINE


def test_a_redacted_record_shows_the_same():
    record = healthy()
    full = seal(replace(record, visit=replace(record.visit, readings=(LEVEL,))))
    assert reading_block(redact(full).record) == reading_block(full.record)


def test_another_language_words_it_with_its_own_signs(monkeypatch):
    monkeypatch.setattr("agent.sheet.catalogue.LANGUAGES", ("en", "de"))
    with speaking("de"):
        (pair,) = block(replace(LEVEL, value=-9.4)).pairs
    value = pair.value.replace(TIE, " ").replace(MINUS, "-")
    assert pair.label == "Modem: Empfangspegel"
    assert value == "-9,4 dBmV, außerhalb des üblichen Bereichs (-8 bis +8)"
