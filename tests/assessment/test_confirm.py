"""When a second measurement of a missed rate is worth making."""

from dataclasses import replace

import pytest
from visits import down, judge, up, visit

from agent.assessment.confirm import would_miss
from agent.assessment.model import Verdict
from agent.measurements import Direction

DOWN, UP = Direction.DOWN, Direction.UP
GREEDY = replace(down(50e6), observed=replace(down(50e6).observed, cpu_ratio=0.99))
AGAIN = down(50.5e6, id="throughput-down-2")


@pytest.mark.parametrize(
    ("measured", "stated", "expected"),
    [
        ((down(50e6),), True, {DOWN}),
        ((down(50e6), up(5e6)), True, {DOWN, UP}),
        ((), True, set()),
        ((down(50e6), AGAIN), True, set()),
        # Nothing that a second measurement could settle.
        ((down(50e6),), None, set()),
        ((GREEDY,), True, set()),
    ],
)
def test_only_what_hangs_on_one_measurement_is_worth_a_second(measured, stated, expected):
    assessment = judge(visit(*measured), nothing_else_on=stated).assessment
    assert {way for way in (DOWN, UP) if would_miss(assessment, way)} == expected


def test_no_tier_is_nothing_to_miss():
    assert not would_miss(judge(visit(down(1e6)), sold=None).assessment, DOWN)


def test_a_plan_that_fills_nothing_leaves_nothing_to_confirm():
    gone = visit(without=("throughput-down", "throughput-up"))
    assert not would_miss(judge(gone, plan="no-fill").assessment, DOWN)


def test_the_second_that_agrees_ends_the_doubt():
    found = judge(visit(down(50e6), AGAIN))
    assert found.assessment.verdict is Verdict.BELOW
