"""Whether a nearer series loses at the ratio of the farther one."""

from fractions import Fraction
from math import comb, prod

import pytest
from hypothesis import given
from hypothesis import strategies as st

from agent.measurements import DelayStatistics, RoundTrip
from agent.stats.same_loss import Losses, chance_of_same

TRACE = 0.001


def series(sent, *runs):
    lost = sum(runs)
    return DelayStatistics(
        sent=sent,
        received=sent - lost,
        late=0,
        duplicates=0,
        reordered=0,
        loss_ratio=lost / sent,
        loss_low=None,
        loss_high=None,
        rtt_ms=RoundTrip(count=sent - lost),
        bursts=runs,
    )


def rising(start, count):
    return prod((start + n for n in range(count)), start=Fraction(1))


@pytest.mark.parametrize("lost", [0, 1, 2, 4, 8, 20, 200])
@pytest.mark.parametrize("far", [(16, 800), (32, 800), (1, 800), (400, 800)])
def test_bayes_rule_in_exact_fractions(lost, far):
    """The beta-binomial by rising factorials (Pólya's urn; from memory)."""
    near = Losses(lost=lost, of=200)
    alpha, beta = far[0] + Fraction(1, 2), far[1] - far[0] + Fraction(1, 2)
    arrangements = comb(200, lost)
    drawn = rising(alpha, lost) * rising(beta, 200 - lost) / rising(alpha + beta, 200)
    clean = Fraction(1, 1000) ** lost * Fraction(999, 1000) ** (200 - lost)
    same, other = (Fraction(part) * arrangements * p for part, p in ((3, drawn), (7, clean)))
    expected = float(same / (same + other))
    found = chance_of_same(near, Losses(lost=far[0], of=far[1]), trace=TRACE, before=0.3)
    assert found == pytest.approx(expected, rel=1e-6, abs=1e-9)


def test_a_run_of_lost_probes_is_one_loss():
    assert Losses.of_series(series(200, 1, 1, 1, 1)) == Losses(lost=4, of=200)
    assert Losses.of_series(series(200, 5, 3)) == Losses(lost=2, of=50)
    assert Losses.of_series(series(200)) == Losses(lost=0, of=200)


@given(st.integers(0, 50), st.integers(0, 200), st.floats(0.01, 0.99))
def test_it_is_a_probability(lost, far, before):
    found = chance_of_same(
        Losses(lost=lost, of=50), Losses(lost=far, of=200), trace=TRACE, before=before
    )
    assert 0 <= found <= 1
