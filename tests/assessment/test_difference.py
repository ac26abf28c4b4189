"""What two visits measured apart, and what chance or another question makes of it."""

from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st
from visits import criterion, down, judge, lease, server, visit

from agent.assessment.difference import difference, differences

RATE = criterion(judge(visit()), "throughput-down")


def names(before, after):
    return [one.name for one in differences(before.assessment.criteria, after.assessment.criteria)]


def test_a_rate_beyond_both_intervals_is_told_with_both_figures():
    slow, fast = judge(visit(down(52e6))), judge(visit(down(96e6)))
    (found,) = differences(slow.assessment.criteria, fast.assessment.criteria)
    assert (found.name, found.unit, found.layer) == ("throughput-down", "bps", "payload")
    assert found.then_low <= found.then <= found.then_high < found.now_low <= found.now
    assert found.then == pytest.approx(52e6, rel=0.01)
    assert found.now == pytest.approx(96e6, rel=0.01)


def test_a_visit_does_not_differ_from_itself():
    found = judge(visit())
    assert names(found, found) == []


def test_a_few_losses_more_are_chance():
    assert names(judge(visit()), judge(visit(server(up=1)))) == []
    assert names(judge(visit()), judge(visit(server(up=80)))) == ["server-loss-up"]


def test_an_address_that_is_gone_differs():
    without = lease(address=None, gateway=None)
    assert "lease" in names(judge(visit()), judge(visit(without)))


def test_counts_differ_where_the_limit_lies_between_them():
    count = replace(RATE, unit="count", layer=None, limit=3, low=5, high=5, measured=5)
    one, four, six = (replace(count, low=n, high=n, measured=n) for n in (1, 4, 6))
    assert difference(four, six) == "same"
    assert difference(one, four) == "higher"
    assert difference(four, one) == "lower"


numbers = st.tuples(*[st.floats(0, 1e9)] * 3).map(sorted)


@given(numbers, numbers)
def test_the_order_of_the_visits_turns_the_difference_round(first, last):
    one, other = (replace(RATE, low=v[0], measured=v[1], high=v[2]) for v in (first, last))
    turned = {"higher": "lower", "lower": "higher", "same": "same"}
    assert difference(other, one) == turned[difference(one, other)]
    if difference(one, other) == "same":
        assert max(first[0], last[0]) <= min(first[2], last[2])
