"""Other customers' traffic and the dark times of a line, by their laws."""

from itertools import pairwise, takewhile

import pytest
from hypothesis import given
from hypothesis import strategies as st

from agent.practice.crowd import FRAME, Crowd, bursts
from agent.practice.outages import Outages

MBIT = 1_000_000
LINK = 165 * MBIT
LOADS = [0.5, 0.67, 0.82]


def until(crowd, end_s):
    return list(takewhile(lambda burst: burst[0] < end_s, bursts(crowd)))


def load_of(found, seconds):
    return sum(frames for _, frames in found) * FRAME * 8 / seconds / LINK


def wait_s(found):
    """Return the mean wait before a link for who comes at any time, by its work left over."""
    left, last_s, area = 0.0, 0.0, 0.0
    for at_s, frames in found:
        gap, drained = at_s - last_s, max(0.0, left - (at_s - last_s))
        busy = min(gap, left)
        area += busy * (left + drained) / 2
        left, last_s = drained + frames * FRAME * 8 / LINK, at_s
    return area / last_s


@pytest.mark.parametrize("share", LOADS)
def test_a_crowd_is_as_large_as_ordered(share):
    found = until(Crowd(link_bps=LINK, load_bps=share * LINK, seed="law"), 300)
    # 300 s hold some 25,000 bursts of deviation about 1.4 of their mean: 1 % of standard error.
    assert load_of(found, 300) == pytest.approx(share, rel=0.04)


@pytest.mark.parametrize("share", LOADS)
def test_a_crowd_holds_up_who_comes_by_the_law_of_the_queue(share):
    found = until(Crowd(link_bps=LINK, load_bps=share * LINK, seed="law"), 300)
    # M/M/1: the work found is rho / (1 - rho) mean services (Kleinrock 1975, §3.2; from memory).
    expected = share / (1 - share) * 0.006
    assert wait_s(found) == pytest.approx(expected, rel=0.25)


def test_a_crowd_that_comes_and_goes_is_there_half_of_the_time():
    found = until(Crowd(link_bps=LINK, load_bps=0.6 * LINK, seed="law", swing_s=5.0), 300)
    assert load_of(found, 300) == pytest.approx(0.3, rel=0.15)
    gaps = [later[0] - former[0] for former, later in pairwise(found)]
    # Phases of 2.5 s, each between 0.7 and 1.3 times that; between bursts of a rush it is 0.01 s.
    quiet = [gap for gap in gaps if gap > 1.0]
    assert all(1.7 < gap < 3.4 for gap in quiet)
    assert len(quiet) == pytest.approx(300 / 5, rel=0.1)


@pytest.mark.parametrize("swing_s", [0.0, 4.0])
def test_the_seed_decides_the_bursts(swing_s):
    def first(seed):
        return until(Crowd(link_bps=LINK, load_bps=LINK / 2, seed=seed, swing_s=swing_s), 10)

    assert first("1") == first("1") != first("2")


@given(
    dark_s=st.floats(0.1, 5),
    every_s=st.floats(0.5, 10),
    seed=st.integers(),
    began_s=st.floats(0, 1e6),
)
def test_outages_last_as_ordered_with_light_between_them(dark_s, every_s, seed, began_s):
    outages = Outages(dark_s, every_s, seed, began_s)
    step_s = min(dark_s, every_s) / 40
    times = [began_s + number * step_s for number in range(int(4 * (dark_s + every_s) / step_s))]
    changes, was = [], False
    for at_s in times:
        if outages.dark_at(at_s) != was:
            was = not was
            changes.append(at_s)
    assert began_s + 0.5 * every_s - step_s <= changes[0] <= began_s + 1.5 * every_s + step_s
    for turn, (former, later) in enumerate(pairwise(changes)):
        least, most = (dark_s, dark_s) if turn % 2 == 0 else (0.5 * every_s, 1.5 * every_s)
        assert least - 2 * step_s <= later - former <= most + 2 * step_s


def test_both_directions_are_dark_at_the_same_times_whoever_asks_how_often():
    often, seldom = (Outages(0.5, 2.0, 7, 100.0) for _ in range(2))
    asked = [100 + number / 10 for number in range(400)]
    told = {at_s: often.dark_at(at_s) for at_s in asked}
    assert [seldom.dark_at(at_s) for at_s in asked[::7]] == [told[at_s] for at_s in asked[::7]]
    assert {True, False} <= set(told.values())
