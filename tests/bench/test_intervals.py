"""A small part of the interval benchmark with fixed seeds: figures that only a fault would move."""

import pytest
from intervals import LINES, outcomes

from agent.measurements import Ended

RUNS = 60


@pytest.mark.parametrize("name", list(LINES))
def test_the_interval_holds_the_realised_mean_and_the_lines_own(name):
    """At 95 %, 60 runs hold fewer than 51 in 1 of 1,800 cases (binomial)."""
    runs = outcomes(name, RUNS)
    assert sum(r.realised for r in runs) >= 57
    assert sum(r.process for r in runs) >= 51


def test_a_steady_line_is_known_to_a_percent_soon_and_without_bias():
    runs = outcomes("steady", RUNS)
    assert sum(r.half_width <= 0.01 for r in runs) >= 57
    assert sum(r.ended is Ended.INTERVAL for r in runs) >= 51
    assert abs(sum(r.error for r in runs) / RUNS) < 0.001


def test_a_deep_bucket_gives_the_sustained_rate():
    assert max(abs(r.error) for r in outcomes("deep bucket", RUNS)) < 0.01
