"""The decision rule beside the worked examples of JCGM 106:2012 (figures recalled from memory)."""

from statistics import NormalDist

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from agent.assessment.decide import Reading, decide
from agent.assessment.model import Sense, Verdict

MEETS, BELOW, OPEN = Verdict.MEETS, Verdict.BELOW, Verdict.NOT_PROVEN
FLOOR, CEILING = Sense.AT_LEAST, Sense.AT_MOST
COVERAGE = 2.0
"""The usual factor of an expanded uncertainty, U = 2 u (JCGM 100:2008 §6.2, about 95 %)."""


def conformance(estimate, standard, limit, sense):
    """§7.2.2, from memory: one limit and a normal distribution of what the quantity may be."""
    above = NormalDist(estimate, standard).cdf(limit)
    return above if sense is CEILING else 1 - above


def reading(estimate, expanded):
    return Reading(measured=estimate, low=estimate - expanded, high=estimate + expanded)


@pytest.mark.parametrize(
    ("quantity", "probability", "guarded"),
    [
        # §7.4 example 1, from memory: the breakdown voltage of a Zener diode, V.
        ((-5.47, 0.05, -5.40, CEILING), 0.92, OPEN),
        # §7.4 example 2, from memory: the bursting strength of a container, kPa.
        ((509.7, 8.6, 490.0, FLOOR), 0.99, MEETS),
    ],
)
def test_worked_examples(quantity, probability, guarded):
    estimate, standard, limit, sense = quantity
    found = conformance(*quantity)
    assert found == pytest.approx(probability, abs=0.005)
    judged = reading(estimate, COVERAGE * standard)
    assert decide(judged, limit, sense, "simple")[0] is MEETS
    assert decide(judged, limit, sense, "guarded")[0] is guarded


def test_a_guard_band_of_u_leaves_2_3_percent_of_risk_at_its_edge():
    """§8.3.2: w = U = 2u, so at the acceptance limit a customer risks 2.3 % (from memory)."""
    at_edge = conformance(102.0, 1.0, 100.0, FLOOR)
    assert 1 - at_edge == pytest.approx(0.023, abs=0.0005)
    assert decide(reading(102.0, 2.0), 100.0, FLOOR, "guarded")[0] is MEETS
    assert decide(reading(101.99, 2.0), 100.0, FLOOR, "guarded")[0] is OPEN


def test_at_the_limit_simple_acceptance_shares_the_risk_evenly():
    """§8.2: with the estimate at the limit either is as likely; it is accepted, without proof."""
    assert conformance(100.0, 1.0, 100.0, FLOOR) == pytest.approx(0.5)
    assert decide(reading(100.0, 2.0), 100.0, FLOOR, "simple")[0] is MEETS
    assert decide(reading(100.0, 2.0), 100.0, FLOOR, "guarded")[0] is OPEN


@given(
    st.floats(-1e3, 1e3), st.floats(0.01, 100), st.floats(-1e3, 1e3), st.sampled_from(list(Sense))
)
def test_guarded_acceptance_and_rejection_are_bounds_on_probability(
    estimate, standard, limit, sense
):
    """§8.3.2, §8.3.3: accepted from 97.7 % of conformance on, rejected below 2.3 %."""
    assume(abs(abs(estimate - limit) / standard - COVERAGE) > 1e-6)
    sure = NormalDist().cdf(COVERAGE)
    probability = conformance(estimate, standard, limit, sense)
    expected = MEETS if probability > sure else BELOW if probability < 1 - sure else OPEN
    assert decide(reading(estimate, COVERAGE * standard), limit, sense, "guarded")[0] is expected


@given(st.floats(-1e3, 1e3), st.floats(0.01, 100), st.floats(-1e3, 1e3))
def test_the_acceptance_interval_is_the_tolerance_less_the_guard_band(estimate, expanded, limit):
    """§8.3.2.1: for a lower tolerance limit T the acceptance limit is T + w, w = U."""
    assume(abs(estimate - (limit + expanded)) > 1e-6)
    accepted = decide(reading(estimate, expanded), limit, FLOOR, "guarded")[0] is MEETS
    assert accepted == (estimate > limit + expanded)
