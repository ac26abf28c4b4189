"""Reordering against the worked examples of RFC 4737 §7, values in vectors.toml."""

from itertools import takewhile

import pytest
from hypothesis import given
from hypothesis import strategies as st
from published import vector

from agent.stats.reordering import (
    extents,
    late_positions,
    late_times_ms,
    n_reorderings,
    reordering,
    reordering_free_runs,
    reordering_gaps,
)

TIMED = ["reorder-one", "reorder-two", "reorder-three"]


@pytest.mark.parametrize("name", TIMED)
def test_late_time_and_n_reordering(name):
    v = vector(name)
    arrival, expected = v["inputs"]["arrival"], v["expected"]
    late = late_positions(arrival)
    assert [arrival[i] for i in late] == expected["reordered"]
    assert list(late_times_ms(arrival, v["inputs"]["dst_ms"])) == expected["late_ms"]
    assert list(n_reorderings(arrival)) == expected["n_reordering"]
    found = reordering(arrival, v["inputs"]["dst_ms"])
    assert found.extent_max == max(expected["extent"])
    assert found.late_max_ms == max(expected["late_ms"])
    assert found.n_reordering_max == max(expected["n_reordering"])


def test_gaps_and_free_runs():
    v = vector("reorder-runs")
    arrival, expected = v["inputs"]["arrival"], v["expected"]
    assert reordering_gaps(arrival) == (expected["gap"],)
    assert list(reordering_free_runs(arrival)) == expected["free_runs"]
    found = reordering(arrival)
    assert (found.gap_min, found.free_run_max) == (expected["gap"], max(expected["free_runs"]))
    assert found.late_max_ms is None


def test_ratio_of_the_four_streams():
    v = vector("reorder-ratio")
    names = [*TIMED, "reorder-runs"]
    found = [reordering(vector(name)["inputs"]["arrival"]) for name in names]
    assert [one.reordered for one in found] == v["inputs"]["reordered"]
    assert [one.arrived for one in found] == v["inputs"]["total"]
    assert [one.ratio for one in found] == pytest.approx(v["expected"]["ratio"])


def test_nothing_that_arrived_has_no_order():
    assert reordering(()) is None


@given(st.lists(st.integers(0, 1000), min_size=1, max_size=60, unique=True))
def test_laws(arrivals):
    found = reordering(arrivals)
    assert (found.reordered == 0) == (sorted(arrivals) == arrivals)
    # The definition itself (RFC 4737 §3): a larger number came before.
    late = [i for i in range(len(arrivals)) if any(n > arrivals[i] for n in arrivals[:i])]
    assert list(late_positions(arrivals)) == late
    # §4.2: back to the earliest larger number; §5: larger ones just before, counted one by one.
    earliest = [next(j for j in range(i) if arrivals[j] > arrivals[i]) for i in late]
    assert list(extents(arrivals)) == [i - j for i, j in zip(late, earliest, strict=True)]
    larger = [list(takewhile(lambda n: n > arrivals[i], reversed(arrivals[:i]))) for i in late]  # noqa: B023 - used at once
    assert list(n_reorderings(arrivals)) == [len(run) for run in larger]
    if late:
        assert found.n_reordering_max <= found.extent_max
