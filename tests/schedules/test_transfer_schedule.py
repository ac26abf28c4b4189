"""The transfer schedule, driven by sights that are written down."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from agent.measurements import Ended
from agent.schedules.transfer import (
    DRAIN_S,
    OPENING_S,
    STALL_S,
    Begin,
    Cut,
    Look,
    Open,
    Sight,
    Stop,
    TransferSchedule,
)
from agent.settings.model import ThroughputPlan

PLAN = ThroughputPlan(mode="fixed", seconds=2.0, flows=3, slice_s=0.1, max_bytes=10_000_000)


def schedule(plan=PLAN, *, deadline_s=60.0, max_bytes=10_000_000):
    return TransferSchedule(plan, deadline_s=deadline_s, max_bytes=max_bytes)


def carrying(max_bytes=10_000_000, deadline_s=60.0):
    """Return a schedule whose first byte came at 1 s."""
    made = schedule(max_bytes=max_bytes, deadline_s=deadline_s)
    made.next_step(Sight(at_s=0.0))
    made.next_step(Sight(at_s=0.5, ready=3))
    step = made.next_step(Sight(at_s=1.01, running=3, bytes=10, first_byte_s=1.0))
    assert step == Look(at_s=pytest.approx(1.1), closes_slice=True)
    return made


def run(made, rate, *, until_s=100.0, broken_at_s=None):
    """Look when told, with bytes arriving at a rate; return (stop, its time, slices)."""
    at_s, slices = 1.1, 0
    while at_s < until_s:
        slices += 1
        broken = int(broken_at_s is not None and at_s >= broken_at_s)
        step = made.next_step(
            Sight(at_s=at_s, running=3 - broken, broken=broken, bytes=int(rate(at_s - 1.0)))
        )
        if isinstance(step, Stop):
            return step, at_s, slices
        assert step.at_s > at_s
        at_s = step.at_s
    raise AssertionError


def test_first_it_opens_every_flow_of_the_plan():
    assert schedule().next_step(Sight(at_s=0.0)) == Open(flows=3)


def test_it_waits_for_the_last_flow_to_open():
    made = schedule()
    made.next_step(Sight(at_s=0.0))
    assert isinstance(made.next_step(Sight(at_s=0.2, opening=1, ready=2)), Look)
    assert made.next_step(Sight(at_s=0.3, ready=3)) == Begin()


def test_it_goes_on_with_the_flows_that_opened():
    made = schedule()
    made.next_step(Sight(at_s=0.0))
    assert made.next_step(Sight(at_s=0.3, ready=2, broken=1)) == Begin()


def test_a_flow_that_never_opens_does_not_hold_the_others_for_ever():
    made = schedule()
    made.next_step(Sight(at_s=0.0))
    assert made.next_step(Sight(at_s=OPENING_S + 1, opening=1, ready=2)) == Begin()


@pytest.mark.parametrize(
    ("sight", "cut"),
    [
        (Sight(at_s=0.3, broken=3), Cut.FAULT),
        (Sight(at_s=OPENING_S + 1, opening=3), Cut.STALL),
    ],
)
def test_no_open_flow_is_a_fault(sight, cut):
    made = schedule()
    made.next_step(Sight(at_s=0.0))
    assert made.next_step(sight) == Stop(ended=Ended.FAULT, cut=cut)


@pytest.mark.parametrize(
    ("sight", "cut"),
    [
        (Sight(at_s=1.0, broken=3), Cut.FAULT),
        (Sight(at_s=0.5 + STALL_S, running=3), Cut.STALL),
    ],
)
def test_a_first_byte_that_never_comes_is_a_fault(sight, cut):
    made = schedule()
    made.next_step(Sight(at_s=0.0))
    made.next_step(Sight(at_s=0.5, ready=3))
    assert made.next_step(sight) == Stop(ended=Ended.FAULT, cut=cut)


def test_it_runs_for_its_time_from_the_first_byte_in_whole_slices():
    stop, at_s, slices = run(carrying(), lambda t: 1000 * t)
    assert stop == Stop(ended=Ended.TIME)
    assert at_s == pytest.approx(1.0 + PLAN.seconds)
    assert slices == 20


def test_a_broken_flow_ends_it_at_the_next_look():
    stop, at_s, _ = run(carrying(), lambda t: 1000 * t, broken_at_s=1.55)
    assert stop == Stop(ended=Ended.FAULT, cut=Cut.FAULT)
    assert at_s == pytest.approx(1.6)


def test_silence_ends_it_when_the_stall_time_has_passed():
    plan = PLAN.model_copy(update={"seconds": 20.0})
    made = schedule(plan)
    made.next_step(Sight(at_s=0.0))
    made.next_step(Sight(at_s=0.5, ready=3))
    made.next_step(Sight(at_s=1.0, running=3, bytes=10, first_byte_s=1.0))
    stop, at_s, _ = run(made, lambda t: 1000 * min(t, 0.5))
    assert stop == Stop(ended=Ended.FAULT, cut=Cut.STALL)
    assert at_s == pytest.approx(1.5 + STALL_S, abs=0.11)


def test_it_stops_in_time_for_the_last_receipt():
    stop, at_s, _ = run(carrying(deadline_s=3.0), lambda t: 1000 * t)
    assert stop == Stop(ended=Ended.TIME, cut=Cut.TIME_LIMIT)
    assert at_s <= 3.0 - DRAIN_S + PLAN.slice_s


@given(st.floats(1e5, 1e7), st.integers(100_000, 9_000_000))
def test_a_steady_line_never_passes_the_data_cap(rate, cap):
    stop, at_s, _ = run(carrying(max_bytes=cap), lambda t: rate * t)
    assert rate * (at_s - 1.0) <= cap + 1 or at_s < 1.21
    if rate * (PLAN.seconds + 2 * PLAN.slice_s) <= cap:
        assert stop == Stop(ended=Ended.TIME)
    if rate * (PLAN.seconds + PLAN.slice_s) > cap * 1.01 + rate * PLAN.slice_s:
        assert stop == Stop(ended=Ended.DATA)


def test_the_plans_own_cap_holds_too():
    stop, _, _ = run(carrying(max_bytes=10**12), lambda t: 1e7 * t)
    assert stop.ended is Ended.DATA


def test_a_late_look_takes_the_slices_it_missed_in_one():
    made = carrying()
    step = made.next_step(Sight(at_s=1.37, running=3, bytes=500))
    assert step == Look(at_s=pytest.approx(1.4), closes_slice=True)


def test_where_nobody_counts_here_only_time_ends_it():
    made = schedule(deadline_s=60.0)
    made.next_step(Sight(at_s=0.0))
    made.next_step(Sight(at_s=0.5, ready=3, bytes=None))
    step = made.next_step(Sight(at_s=0.5, running=3, bytes=None))
    seen = []
    while isinstance(step, Look):
        seen.append(step.at_s)
        step = made.next_step(Sight(at_s=step.at_s, running=3, bytes=None))
    assert step == Stop(ended=Ended.TIME)
    assert seen[-1] == pytest.approx(0.5 + PLAN.seconds)
