"""Readings taken by hand: what may be typed, what is refused, which range stands beside them."""

from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st
from records import below

from agent.errors import UsageError
from agent.measurements.by_hand import FIGURES, ReadAt, ReadWhat
from agent.record.model import Reading
from agent.session.hand_readings import MOST, reading_of, readings_of, with_usual
from agent.session.rejudge import judged_anew
from agent.settings.loader import load
from agent.settings.model import Access

LOADED = load(None, {}, {})
SETTINGS = LOADED.settings


@pytest.mark.parametrize(
    ("typed", "where", "what", "value", "unit"),
    [
        ("modem downstream-level 3.1 dBmV", "modem", "downstream-level", 3.1, "dBmV"),
        ("tap downstream-level 14 dBmV", "tap", "downstream-level", 14.0, "dBmV"),
        ("modem downstream-level -7,5 dBmV", "modem", "downstream-level", -7.5, "dBmV"),
        (
            "modem downstream-level \N{MINUS SIGN}7.5 dBmV",
            "modem",
            "downstream-level",
            -7.5,
            "dBmV",
        ),
        ("modem downstream-level \N{EN DASH}7.5dBmV", "modem", "downstream-level", -7.5, "dBmV"),
        ("  Entry  DOWNSTREAM-LEVEL +3.1   DBMV ", "entry", "downstream-level", 3.1, "dBmV"),
        # 1 mV is 1000 µV, hence 60 dB.
        ("outlet downstream-level 63.1 dBuV", "outlet", "downstream-level", 3.1, "dBmV"),
        ("outlet upstream-level 103,5 dB\N{MICRO SIGN}V", "outlet", "upstream-level", 43.5, "dBmV"),
        (
            "outlet upstream-level 60 dB\N{GREEK SMALL LETTER MU}V",
            "outlet",
            "upstream-level",
            0.0,
            "dBmV",
        ),
        ("modem downstream-snr 38.5 dB", "modem", "downstream-snr", 38.5, "dB"),
        ("modem uncorrectable-ratio 3e-7", "modem", "uncorrectable-ratio", 3e-7, "ratio"),
        ("modem uncorrectable-ratio 0,0004", "modem", "uncorrectable-ratio", 4e-4, "ratio"),
        ("modem timeouts 12", "modem", "timeouts", 12.0, "count"),
        ("ont optical-receive -19.4 dBm", "ont", "optical-receive", -19.4, "dBm"),
        ("modem dsl-margin-up 5.9 dB", "modem", "dsl-margin-up", 5.9, "dB"),
        ("modem dsl-sync-down 109.9 Mbit/s", "modem", "dsl-sync-down", 109.9, "Mbit/s"),
        ("outlet radio-rsrp -92 dBm", "outlet", "radio-rsrp", -92.0, "dBm"),
        ("outlet radio-sinr -3 dB", "outlet", "radio-sinr", -3.0, "dB"),
    ],
)
def test_what_was_typed_is_kept_as_it_was_stated(typed, where, what, value, unit):
    assert reading_of(typed) == Reading(where=where, what=what, value=value, unit=unit)


MUST_NAME_AN_EXAMPLE = 'such as --reading "'
BAD = [
    ("", "something is missing", ""),
    ("modem", "something is missing", ""),
    ("modem downstream-level", "something is missing", ""),
    ("cellar downstream-level 3 dBmV", '"cellar" is no place', "entry (ground block, NID)"),
    ("modem downstraem-level 3 dBmV", '"downstraem-level" is no kind', "mean downstream-level?"),
    ("modem colour 3 dBmV", '"colour" is no kind', "WHAT is one of downstream-level"),
    ("downstream-level modem 3 dBmV", '"downstream-level" is no place', ""),
    ("modem downstream-level three dBmV", "no number with its unit", ""),
    ("modem downstream-level nan dBmV", "no number with its unit", ""),
    ("modem downstream-level -inf dBmV", "no number with its unit", ""),
    ("modem downstream-level infinity dBmV", "no number with its unit", ""),
    ("modem downstream-level 1e99 dBmV", "is beyond -50 to 50 dBmV", ""),
    (f"modem downstream-level {'9' * 400} dBmV", "no number with its unit", ""),
    ("modem downstream-level 1.2.3 dBmV", "no number with its unit", ""),
    ("modem downstream-level 1,234.5 dBmV", "no number with its unit", ""),
    ("modem downstream-level 3 1 dBmV", "no number with its unit", ""),
    ("modem downstream-level \N{ARABIC-INDIC DIGIT THREE} dBmV", "no number with its unit", ""),
    ("modem downstream-level 3.1", "is dBmV or dBuV, and none is given", ""),
    ("modem downstream-level 3.1 dB", 'is dBmV or dBuV, not "dB"', ""),
    ("modem downstream-level 3.1 dBm", 'is dBmV or dBuV, not "dBm"', ""),
    ("modem downstream-level 65 dBmV", "65 dBmV is beyond -50 to 50 dBmV", ""),
    ("modem downstream-snr 98 dBuV", 'the unit of downstream-snr is dB, not "dBuV"', "38.5 dB"),
    ("ont optical-receive 19.4 dBm", "19.4 dBm is beyond -50 to 10 dBm", "-19.4 dBm"),
    ("modem dsl-sync-up 42000 kbit/s", 'is Mbit/s, not "kbit/s"', "42 Mbit/s"),
    ("modem uncorrectable-ratio 0.1 %", "uncorrectable-ratio has no unit", "3e-7"),
    ("modem uncorrectable-ratio 1.5", "1.5 is beyond 0 to 1", ""),
    ("modem timeouts 1,5", "timeouts is a whole number", "modem timeouts 0"),
    ("modem timeouts 1,000", "timeouts is a whole number", ""),
    ("modem timeouts -1", "timeouts is a whole number", ""),
    ("modem timeouts 3 T3", "no number with its unit", ""),
]


@pytest.mark.parametrize(("typed", "problem", "hint"), BAD)
def test_what_cannot_be_is_one_error_that_names_it_and_an_example(typed, problem, hint):
    with pytest.raises(UsageError) as caught:
        reading_of(typed)
    said = caught.value.sentence()
    assert said.startswith('--reading "')
    assert problem in said
    assert hint in said
    assert MUST_NAME_AN_EXAMPLE in said


@pytest.mark.parametrize("kind", ReadWhat)
def test_the_example_of_an_error_can_be_used_itself(kind):
    with pytest.raises(UsageError) as caught:
        reading_of(f"modem {kind.value} much")
    example = caught.value.sentence().rpartition('--reading "')[2].partition('"')[0]
    assert reading_of(example).what == kind.value


@given(text=st.text(max_size=60) | st.sampled_from([case[0] for case in BAD]).map(lambda t: t * 9))
def test_any_text_is_a_reading_or_one_harmless_line(text):
    try:
        said = reading_of(text).where
    except UsageError as error:
        said = error.sentence()
    assert said in set(ReadAt) or (said.startswith("--reading") and said.isprintable())


@given(
    where=st.sampled_from(ReadAt),
    kind=st.sampled_from([k for k in ReadWhat if FIGURES[k].unit not in {"count", "ratio"}]),
    tenths=st.integers(-600, 600),
    comma=st.booleans(),
)
def test_a_possible_figure_is_kept_and_another_refused(where, kind, tenths, comma):
    figure, digits = FIGURES[kind], f"{tenths / 10:.1f}"
    text = digits.replace(".", ",") if comma else digits
    typed = f"{where} {kind} {text} {figure.unit}"
    if figure.lowest <= tenths / 10 <= figure.highest:
        assert reading_of(typed).value == float(digits)
    else:
        with pytest.raises(UsageError, match="beyond"):
            reading_of(typed)


@given(tenths=st.integers(-500, 500))
def test_both_units_of_level_keep_the_same_value(tenths):
    one, other = (f"modem downstream-level {t / 10} " for t in (tenths, tenths + 600))
    assert reading_of(f"{one}dBmV") == reading_of(f"{other}dBuV")


def test_readings_keep_their_order_and_more_than_the_most_are_refused():
    typed = [f"modem timeouts {count}" for count in range(MOST)]
    found = readings_of(typed, SETTINGS, Access.CABLE)
    assert [one.value for one in found] == list(range(MOST))
    with pytest.raises(UsageError, match="given 25 times; a visit keeps at most 24"):
        readings_of([*typed, typed[0]], SETTINGS, Access.CABLE)
    assert readings_of((), SETTINGS, Access.CABLE) == ()


# Common practice, no source.
@pytest.mark.parametrize(
    ("typed", "access", "usual", "within"),
    [
        ("modem downstream-level 8 dBmV", Access.CABLE, (-8, 8), True),
        ("modem downstream-level 8.1 dBmV", Access.CABLE, (-8, 8), False),
        ("outlet upstream-level 51 dBmV", Access.CABLE, (38, 48), False),
        ("modem downstream-snr 35 dB", Access.CABLE, (35, None), True),
        ("modem uncorrectable-ratio 2e-6", Access.CABLE, (None, 1e-6), False),
        ("modem timeouts 0", Access.CABLE, (0, 0), True),
        ("ont optical-receive -25.5 dBm", Access.FIBRE, (-25, -8), False),
        ("modem dsl-margin-down 6 dB", Access.DSL, (6, None), True),
        ("modem radio-rsrp -101 dBm", Access.WIRELESS, (-100, None), False),
        ("modem downstream-level -9 dBmV", Access.UNKNOWN, (-8, 8), False),
        # At the tap the level is that of the plant, which nobody has told.
        ("tap downstream-level 14 dBmV", Access.CABLE, (None, None), None),
        ("entry downstream-level 14 dBmV", Access.CABLE, (None, None), None),
        # The product decides the rate, and a fibre has no downstream level.
        ("modem dsl-sync-down 63 Mbit/s", Access.DSL, (None, None), None),
        ("modem downstream-level 3 dBmV", Access.FIBRE, (None, None), None),
    ],
)
def test_the_usual_range_is_that_of_the_kind_the_line_and_the_place(typed, access, usual, within):
    (found,) = readings_of([typed], SETTINGS, access)
    assert (found.usual_low, found.usual_high) == usual
    assert found.within_usual is within
    assert (found.source is None) == (within is None)


def test_settings_without_usual_ranges_give_readings_without_any():
    bare = SETTINGS.model_copy(update={"usual": {}})
    (found,) = readings_of(["modem downstream-level 3 dBmV"], bare, Access.CABLE)
    assert (found.source, found.within_usual) == (None, None)


def test_codes_of_a_later_version_are_kept_and_have_no_range():
    later = Reading(where="roof", what="model-config", value=1.0, unit="dBx", usual_low=0.0)
    (found,) = with_usual([later], SETTINGS, Access.CABLE)
    assert found == replace(later, usual_low=None)


def test_readings_move_no_verdict_and_are_ranged_anew_with_new_settings(tmp_path):
    mine = tmp_path / "company.toml"
    mine.write_text(
        "[usual.fibre.optical_receive]\nlow = -26\nhigh = -9\nsource = 'our XGS-PON optics'\n"
    )
    plain = below()
    typed = ["ont optical-receive -25.5 dBm", "ont optical-receive -40 dBm"]
    read = readings_of(typed, SETTINGS, Access.FIBRE)
    with_readings = replace(plain, visit=replace(plain.visit, readings=read))
    same, anew = (judged_anew(with_readings, s) for s in (LOADED, load(mine, {}, {})))
    assert same.visit == with_readings.visit
    assert same.assessment == judged_anew(plain, LOADED).assessment == anew.assessment
    assert same.diagnosis == judged_anew(plain, LOADED).diagnosis == anew.diagnosis
    assert [one.within_usual for one in same.visit.readings] == [False, False]
    assert [one.within_usual for one in anew.visit.readings] == [True, False]
    assert {one.source for one in anew.visit.readings} == {"our XGS-PON optics"}
