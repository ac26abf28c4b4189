"""A small part of the verdict benchmark with fixed seeds: figures that only a fault would move."""

import pytest
from verdicts import RATE_LINES, RUNS, TRIPS, lines_of, wrongly_met

from agent.assessment.model import Verdict

LINES = 40


@pytest.mark.parametrize(
    ("about", "kind"),
    [
        *(("rate", k) for k in RATE_LINES),
        *(("delay", k) for k in TRIPS),
        ("loss", next(iter(RUNS))),
    ],
)
def test_a_guarded_verdict_is_hardly_ever_wrong(about, kind):
    """Were 3.5 % wrong, 40 lines would show more than 5 wrong ones in 1 of 300 cases (binomial)."""
    lines = lines_of(about, kind, LINES)
    assert sum(wrongly_met(line, "guarded") for line in lines) <= 5
    below = [line for line in lines if line.verdicts["guarded"] is Verdict.BELOW]
    assert sum(line.keeps for line in below) <= 5
    assert all(line.verdicts["simple"] is not Verdict.NOT_PROVEN for line in lines)


def test_steady_lines_are_told_apart_within_three_percent():
    lines = lines_of("rate", "steady", LINES)
    sure = [line for line in lines if line.verdicts["guarded"] is not Verdict.NOT_PROVEN]
    assert len(sure) >= 30
    assert all((line.verdicts["guarded"] is Verdict.MEETS) is line.keeps for line in sure)
