"""The interval of a loss ratio that allows for runs: cases in closed form, laws, and coverage."""

import random

import pytest
from hypothesis import given
from hypothesis import strategies as st

from agent.stats.bursts import LossChain, bursty_interval, stated_interval
from agent.stats.proportions import wilson


def series(text):
    return [mark == "x" for mark in text]


def test_transitions_are_counted_in_sending_order():
    chain = LossChain.of(series("xx..x...xxx"))
    assert (chain.count, chain.lost, chain.runs) == (11, 6, 3)
    # After a loss: x, ., ., x, x (the last probe has no successor); after an answer: ., x, ., ., x.
    assert (chain.stays, chain.after_loss) == (3, 5)
    assert (chain.entries, chain.after_answer) == (2, 5)


def test_inflation_of_a_chain_is_that_of_its_correlation():
    """(1 + r)/(1 - r) with r = P(loss|loss) - P(loss|answer) (Gilbert 1960, Klotz 1973; from
    memory), each with Jeffreys' halves: stay (90 + ½)/101, enter (10 + ½)/901."""
    text = ("x" * 10 + "." * 90) * 10
    chain = LossChain.of(series("." + text))
    assert (chain.stays, chain.after_loss, chain.entries, chain.after_answer) == (90, 100, 10, 900)
    tie = 90.5 / 101 - 10.5 / 901
    assert chain.inflation == pytest.approx((1 + tie) / (1 - tie))


def test_without_a_loss_wilson_is_stated_and_runs_are_an_assumption():
    """Jeffreys' prior and half a stay: P(stay) 1/1.5, P(enter) ½/1000 over 999 steps."""
    none = [False] * 1000
    assert stated_interval(none) == wilson(0, 1000)
    tie = 2 / 3 - 0.5 / 1000
    effective = 1000 * (1 - tie) / (1 + tie)
    z2 = 1.959963984540054**2
    assert bursty_interval(none) == pytest.approx((0, z2 / (effective + z2)))


def test_nothing_sent_has_no_interval():
    assert bursty_interval([]) is None
    assert stated_interval([]) is None


def test_the_same_losses_say_less_when_they_come_together():
    lost = 24
    apart = [n % 41 == 0 and n < 41 * lost for n in range(1000)]
    together = [n % 328 < 8 and n < 328 * 3 for n in range(1000)]
    assert sum(apart) == sum(together) == lost
    near, wide = stated_interval(apart), stated_interval(together)
    assert wide[1] - wide[0] > 1.5 * (near[1] - near[0])
    assert near == pytest.approx(wilson(lost, 1000), rel=0.1)


@given(st.lists(st.booleans(), min_size=1, max_size=300), st.sampled_from([0.8, 0.95, 0.99]))
def test_never_narrower_than_wilson_and_around_the_ratio(lost, confidence):
    low, high = bursty_interval(lost, confidence)
    plain = wilson(sum(lost), len(lost), confidence)
    assert 0 <= low <= plain[0] <= sum(lost) / len(lost) <= plain[1] <= high <= 1
    assert low <= stated_interval(lost, confidence)[0]
    assert stated_interval(lost, confidence)[1] <= high


@given(st.lists(st.booleans(), min_size=1, max_size=300))
def test_more_confidence_is_wider(lost):
    near, wide = bursty_interval(lost, 0.9), bursty_interval(lost, 0.99)
    assert wide[0] <= near[0]
    assert near[1] <= wide[1]


def simulated(loss, run, draw):
    """Losses of Gilbert's chain (1960) from its long-run state."""
    stay, enter = 1 - 1 / run, loss / (run * (1 - loss))
    losing, found = draw.random() < loss, []
    for _ in range(1000):
        found.append(losing)
        losing = draw.random() < (stay if losing else enter)
    return found


@pytest.mark.parametrize(("loss", "run"), [(0.05, 8), (0.2, 3)])
def test_the_interval_holds_the_truth_where_wilson_does_not(loss, run):
    """Of 200 series 95 % should hold it: fewer than 180 come by chance once in 2,000 (binomial)."""
    draw = random.Random(f"{loss} {run}")
    some = [simulated(loss, run, draw) for _ in range(200)]
    held = [low <= loss <= high for low, high in map(bursty_interval, some)]
    plain = [wilson(sum(s), 1000) for s in some]
    assert sum(held) >= 180
    assert sum(low <= loss <= high for low, high in plain) < 160
