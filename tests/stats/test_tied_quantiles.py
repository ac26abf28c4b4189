"""The interval of a quantile where neighbours are alike, against simulated truths."""

import math
import random

import pytest
from hypothesis import given
from hypothesis import strategies as st

from agent.stats.quantiles import quantile_interval
from agent.stats.tied_quantiles import inflation, tied_interval


def auto_regressive(rng, count, tie):
    off, found = rng.gauss(0, 1), []
    for _ in range(count):
        found.append(off)
        off = tie * off + rng.gauss(0, math.sqrt(1 - tie * tie))
    return found


def held(low, high, truth):
    return low <= truth <= high


@pytest.mark.parametrize("tie", [0.0, 0.5, 0.9])
def test_the_median_of_a_tied_series_is_held(tie):
    """At 95 %, 150 series hold fewer than 131 in 1 of 1,000 cases (binomial); plain ranks fail."""
    rng = random.Random(f"tie {tie}")
    series = [auto_regressive(rng, 800, tie) for _ in range(150)]
    assert sum(held(*tied_interval(one, 0.5), 0.0) for one in series) >= 131
    plain = sum(held(*quantile_interval(one, 0.5), 0.0) for one in series)
    assert (plain >= 131) is (tie == 0.0)


def test_inflation_of_a_two_state_chain():
    """A chain with correlation r of lag 1 inflates by (1 + r)/(1 - r) (Klotz 1973, from memory)."""
    rng, above, found = random.Random(5), True, []
    for _ in range(40_000):
        found.append(above)
        above = above if rng.random() < 0.9 else not above
    assert inflation(found) == pytest.approx(1.8 / 0.2, rel=0.15)


def test_what_swings_to_and_fro_is_not_inflated():
    assert inflation([True, False] * 50) == 1.0


@pytest.mark.parametrize("same", [[], [True], [False] * 9])
def test_what_never_changes_tells_of_no_tie(same):
    assert inflation(same) == 1.0


values = st.lists(st.floats(0, 1e6) | st.just(math.inf), max_size=120)


@given(values, st.sampled_from([0.5, 0.95]))
def test_never_narrower_than_for_independent_values(sample, share):
    plain, found = quantile_interval(sample, share), tied_interval(sample, share)
    if plain is None:
        assert found is None
        return
    assert found[0] <= plain[0]
    assert found[1] >= plain[1]


@given(st.permutations(range(60)))
def test_untied_values_keep_the_exact_ranks(order):
    above = [value > 29 for value in order]
    if inflation(above) == 1.0:
        assert tied_interval(order, 0.5) == quantile_interval(order, 0.5)


def test_a_loss_makes_neighbours_look_no_less_alike():
    """Taken as a value of its own, every third one would break each run of likes."""
    runs = [float(i // 20 % 2) * 10 + i / 1000 for i in range(600)]
    lossy = [math.inf if i % 37 == 0 and i else value for i, value in enumerate(runs)]
    low, high = tied_interval(runs, 0.5)
    lossy_low, lossy_high = tied_interval(lossy, 0.5)
    assert lossy_low <= low + 1.0
    assert lossy_high >= high
