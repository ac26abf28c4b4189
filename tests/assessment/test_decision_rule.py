"""The decision rule and the precedence, as written tables."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from agent.assessment.decide import Promise, Reading, decide, judged
from agent.assessment.judge import conclude_verdict
from agent.assessment.model import Criterion, FitnessFact, Sense, Verdict

MEETS, BELOW, OPEN = Verdict.MEETS, Verdict.BELOW, Verdict.NOT_PROVEN
FLOOR, CEILING = Sense.AT_LEAST, Sense.AT_MOST


@pytest.mark.parametrize(
    ("reading", "sense", "simple", "guarded"),
    [
        ((12, 11, 13), FLOOR, MEETS, MEETS),
        ((10, 10, 10), FLOOR, MEETS, MEETS),
        ((10.5, 9, 12), FLOOR, MEETS, OPEN),
        ((9.5, 9, 12), FLOOR, BELOW, OPEN),
        ((8, 7, 9), FLOOR, BELOW, BELOW),
        ((8, 7, 9), CEILING, MEETS, MEETS),
        ((10.5, 9, 12), CEILING, BELOW, OPEN),
        ((12, 11, 13), CEILING, BELOW, BELOW),
        ((12, None, None), FLOOR, MEETS, OPEN),
        ((12, 11, None), FLOOR, MEETS, OPEN),
    ],
)
def test_interval_against_a_limit_of_ten(reading, sense, simple, guarded):
    """JCGM 106:2012 §8.2 simple acceptance, §8.3 guard bands as wide as the uncertainty."""
    measured, low, high = reading
    reading = Reading(measured=measured, low=low, high=high)
    assert decide(reading, 10, sense, "simple")[0] is simple
    assert decide(reading, 10, sense, "guarded")[0] is guarded


numbers = st.floats(-1e6, 1e6)


@given(st.tuples(numbers, numbers, numbers), numbers, st.sampled_from(Sense))
def test_guarded_is_never_bolder_than_simple(values, limit, sense):
    low, measured, high = sorted(values)
    reading = Reading(measured=measured, low=low, high=high)
    guarded = decide(reading, limit, sense, "guarded")[0]
    assert guarded in (decide(reading, limit, sense, "simple")[0], OPEN)


@given(st.tuples(numbers, numbers, numbers, numbers, numbers), numbers, st.sampled_from(Sense))
def test_a_narrower_interval_turns_no_guarded_verdict_round(values, limit, sense):
    outer_low, low, measured, high, outer_high = sorted(values)
    wide = decide(
        Reading(measured=measured, low=outer_low, high=outer_high), limit, sense, "guarded"
    )[0]
    narrow = decide(Reading(measured=measured, low=low, high=high), limit, sense, "guarded")[0]
    assert wide is OPEN or narrow is wide


@given(numbers, numbers, st.sampled_from(Sense))
def test_margin_is_positive_where_the_limit_is_kept(measured, limit, sense):
    promise = Promise(name="x", sense=sense, unit="ms", limit=limit, source="test", needed=True)
    found = judged(promise, Reading.count(measured), (), "simple")
    assert (found.margin >= 0) is (found.outcome is MEETS)


def made(name, outcome, *, needed=True):
    return Criterion(
        name=name,
        measurements=(),
        needed=needed,
        sense=FLOOR,
        unit="count",
        limit=1,
        limit_source="test",
        outcome=outcome,
    )


@pytest.mark.parametrize(
    ("outcomes", "verdict", "deciding"),
    [
        ([MEETS, MEETS], MEETS, ()),
        ([MEETS, OPEN], OPEN, ("c1",)),
        ([OPEN, BELOW], BELOW, ("c1",)),
        ([BELOW, BELOW, MEETS], BELOW, ("c0", "c1")),
        ([], OPEN, ("nothing-judged",)),
    ],
)
def test_precedence(outcomes, verdict, deciding):
    """Soundly below, else missing or unsound, else meets."""
    criteria = [made(f"c{i}", o) for i, o in enumerate(outcomes)]
    assert conclude_verdict(criteria, (), has_tier=True) == (verdict, deciding)


@pytest.mark.parametrize("outcome", [BELOW, OPEN])
def test_what_is_not_needed_does_not_decide(outcome):
    criteria = [made("a", MEETS), made("b", outcome, needed=False)]
    assert conclude_verdict(criteria, (), has_tier=True)[0] is MEETS


def test_no_tier_is_never_more_than_not_proven():
    for outcome in Verdict:
        found = conclude_verdict([made("a", outcome)], (), has_tier=False)
        assert found == (OPEN, ("no-tier",))


@pytest.mark.parametrize("fact", ["another_line", "tunnel"])
@pytest.mark.parametrize("outcome", list(Verdict))
def test_another_line_has_no_verdict(fact, outcome):
    facts = (FitnessFact(name=fact, voids=("all",)),)
    found = conclude_verdict([made("a", outcome)], facts, has_tier=True)
    assert found == (OPEN, (fact.replace("_", "-"),))
