"""Skewness of a mean, and the quantiles that allow for it."""

import math
import random

import pytest
from hypothesis import given
from hypothesis import strategies as st

from agent.stats.skewness import leaning_quantile, skewness_of_mean
from agent.stats.special import student_quantile


def test_the_coefficient_is_that_of_a_documented_example():
    """3 4 5 2 3 4 5 6 4 7 have 0.359543: the example of the spreadsheet function SKEW
    (from memory)."""
    values = [3, 4, 5, 2, 3, 4, 5, 6, 4, 7]
    assert skewness_of_mean(values) * math.sqrt(10) == pytest.approx(0.359543, abs=1e-6)


@pytest.mark.parametrize("values", [[1.0], [1.0, 2.0], [3.0] * 9, [1.0, 2.0, 3.0, 4.0]])
def test_few_equal_or_even_values_do_not_lean(values):
    assert skewness_of_mean(values) == pytest.approx(0.0, abs=1e-12)


@given(st.lists(st.floats(-1e6, 1e6), min_size=1, max_size=30))
def test_it_is_bounded_and_turns_with_its_values(values):
    found = skewness_of_mean(values)
    assert -0.35 <= found <= 0.35
    assert skewness_of_mean([-v for v in values]) == pytest.approx(-found)


skews = st.floats(-0.35, 0.35).filter(lambda s: s == 0 or abs(s) > 1e-3)


@given(st.floats(-5, 5), skews)
def test_the_quantile_is_the_root_of_halls_cubic(quantile, skew):
    """Hall 1992, the transformation itself (from memory)."""
    t = leaning_quantile(quantile, skew)
    assert t + skew * t**2 / 3 + skew**2 * t**3 / 27 + skew / 6 == pytest.approx(quantile, abs=1e-6)


@given(st.floats(0.5, 5), skews)
def test_the_interval_always_holds_its_own_mean(quantile, skew):
    assert leaning_quantile(-quantile, skew) <= 0 <= leaning_quantile(quantile, skew)


def test_a_leaning_mean_is_missed_less_on_its_worse_side():
    """2,000 means of ten exponential values of mean 1: too low a mean comes with too small a
    spread, so that a symmetric interval ends below 1 too often."""
    rng, quantile = random.Random("leaning"), student_quantile(0.975, 9)
    plain = allowed = 0
    for _ in range(2000):
        values = [rng.expovariate(1.0) for _ in range(10)]
        mean = math.fsum(values) / 10
        error = math.sqrt(math.fsum((v - mean) ** 2 for v in values) / 9 / 10)
        skew = skewness_of_mean(values)
        plain += mean + quantile * error < 1
        allowed += mean - leaning_quantile(-quantile, skew) * error < 1
    assert plain > 140
    assert allowed < 0.75 * plain
