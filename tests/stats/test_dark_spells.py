"""Spells of silence of a delay series."""

from hypothesis import given
from hypothesis import strategies as st

from agent.measurements import EchoOutcome, EchoSeries
from agent.stats.dark_spells import LEAST_PROBES, LEAST_S, Spell, any_meets, dark_spells

STEP_S = 0.05


def series(marks, step_s=STEP_S):
    """A series with an answer for each "." and a loss for each "x"."""
    outcome = tuple(EchoOutcome.ANSWERED if m == "." else EchoOutcome.LOST for m in marks)
    return EchoSeries(
        waiting_s=1.0,
        interval_s=step_s,
        payload_bytes=44,
        sent_s=tuple(i * step_s for i in range(len(marks))),
        rtt_ms=tuple(5.0 if m == "." else None for m in marks),
        outcome=outcome,
    )


def test_a_spell_lasts_from_the_first_lost_to_the_first_that_comes_back():
    (spell,) = dark_spells(series("..xxxxxxxx.."))
    assert spell == Spell(2 * STEP_S, 10 * STEP_S)
    assert spell.length_s == 8 * STEP_S


def test_a_spell_that_outlasts_the_series_ends_with_its_last_probe():
    (spell,) = dark_spells(series("..xxxxxxxx"))
    assert spell.ends_s == 9 * STEP_S


def test_silence_throughout_is_no_spell():
    assert dark_spells(series("x" * 40)) == ()


def test_short_runs_are_noise():
    assert dark_spells(series("..xxxx..xxxx.." * 4)) == ()
    # Many probes within a moment are one, however many: they were sent close together.
    assert dark_spells(series("." + "x" * 10 + ".", step_s=LEAST_S / 20)) == ()


@given(st.text(alphabet=".x", min_size=1, max_size=200))
def test_spells_are_apart_in_order_and_hold_no_answer(marks):
    seen = series(marks)
    found = dark_spells(seen)
    ends = [0.0, *(s.ends_s for s in found)]
    assert all(before <= s.begins_s for before, s in zip(ends, found, strict=False))
    for spell in found:
        inside = [
            o
            for at_s, o in zip(seen.sent_s, seen.outcome, strict=True)
            if spell.begins_s <= at_s < spell.ends_s
        ]
        assert len(inside) >= LEAST_PROBES - 1
        assert set(inside) == {EchoOutcome.LOST}


def test_two_spells_meet_where_both_were_silent():
    early, late = Spell(1.0, 2.0), Spell(1.5, 3.0)
    assert early.meets(late)
    assert late.meets(early)
    assert not Spell(2.0, 2.5).meets(early)
    assert any_meets(early, [Spell(5.0, 6.0), late])
    assert not any_meets(early, [Spell(5.0, 6.0)])
