"""Mounds and axes: every value has its place, nothing that came vanishes."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from agent.sheet.mounds import LEAST_SPAN, MOST_TICKS, log_axis, mound, rates_over_time

delays = st.lists(st.floats(0.001, 30_000), min_size=1, max_size=60)


@given(delays)
def test_every_value_stands_inside_the_axis_and_the_axis_is_wide(values):
    axis = log_axis(values)
    assert axis.high / axis.low >= LEAST_SPAN * (1 - 1e-9)
    assert all(0 < axis.at(value) < 1 for value in values)


@given(delays)
def test_places_keep_the_order_of_values(values):
    axis = log_axis(values)
    places = [axis.at(value) for value in sorted(values)]
    assert places == sorted(places)


@given(delays)
def test_ticks_are_round_few_and_inside(values):
    axis = log_axis(values)
    ticks = axis.ticks()
    assert 1 <= len(ticks) <= MOST_TICKS
    for tick in ticks:
        assert 0 <= axis.at(tick) <= 1
        digit = tick / 10 ** math.floor(math.log10(tick) + 1e-9)
        assert any(math.isclose(digit, round_) for round_ in (1, 2, 5, 10))


def test_a_decade_is_as_long_as_the_next():
    axis = log_axis([0.1, 1.0, 10.0])
    assert axis.at(1.0) - axis.at(0.1) == pytest.approx(axis.at(10.0) - axis.at(1.0))


@pytest.mark.parametrize("values", [[], [0.0], [-1.0, 0.0]])
def test_without_a_value_above_zero_there_is_no_axis(values):
    assert log_axis(values) is None


@given(delays, st.integers(4, 80))
def test_the_fullest_bin_is_full_and_a_lone_value_shows(values, bins):
    axis = log_axis(values)
    heights = mound(values, axis, bins)
    assert len(heights) == bins
    assert max(heights) == 1
    filled = {min(bins - 1, int(axis.at(value) * bins)) for value in values}
    assert {at for at, height in enumerate(heights) if height > 0} == filled


def test_no_values_are_no_mound():
    assert mound([], log_axis([1.0]), 10) == ()


@given(
    st.lists(st.tuples(st.floats(0.01, 2.0), st.floats(0, 1e9)), min_size=1, max_size=40),
    st.integers(1, 60),
)
def test_what_arrived_is_shared_out_whole(slices, bins):
    ends = []
    for length, _ in slices:
        ends.append((ends[-1] if ends else 0.0) + length)
    amounts = [amount for _, amount in slices]
    rates = rates_over_time(ends, amounts, ends[-1], bins)
    assert sum(rates) * ends[-1] / bins == pytest.approx(sum(amounts), abs=1e-3)


def test_a_steady_rate_is_flat_whatever_the_slices():
    # 125 octets in half a second, 250 in the next whole one, 625 in the last two and a half.
    rates = rates_over_time([0.5, 1.5, 4.0], [125.0, 250.0, 625.0], 4.0, 8)
    assert rates == pytest.approx([250.0] * 8)


def test_slices_that_end_before_they_begin_bring_nothing():
    assert rates_over_time([1.0, 0.5, 2.0], [10.0, 99.0, 10.0], 2.0, 2) == pytest.approx([10, 10])
