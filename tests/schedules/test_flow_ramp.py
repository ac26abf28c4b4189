"""Stages of flows, and the adaptive schedule over lines that are written down."""

import pytest

from agent.measurements import CountedBy, Direction, Ended, Transfer
from agent.schedules.flows import LONGEST_STAGE_S, MOST_OF_BUDGET, FlowRamp
from agent.schedules.transfer import Begin, Look, Open, Sight, Stop, TransferSchedule
from agent.settings.model import ThroughputPlan
from agent.stats.slices import slices_of
from agent.stats.throughput import throughput_statistics

SLICE_S = 0.05
FIRST_S = 0.07
PLAN = ThroughputPlan()


def slices(octets):
    return slices_of([(i + 1) * SLICE_S for i in range(len(octets))], octets)


def ramp(round_trip_s=0.02):
    return FlowRamp(round_trip_s=round_trip_s, precision=0.01)


def test_a_stage_is_not_judged_before_slow_start_and_a_plateau():
    assert ramp(0.05).more(slices([100] * 17), 1, 7, 0.1) == 0
    assert ramp(0.05).more(slices([100] * 18), 1, 7, 0.1) == 1


def test_a_stage_that_grows_is_given_time_but_not_for_ever():
    growing = [int(100 * 1.1**i) for i in range(int(LONGEST_STAGE_S / SLICE_S))]
    assert ramp().more(slices(growing[:-1]), 1, 7, 0.1) == 0
    assert ramp().more(slices(growing), 1, 7, 0.1) == 1


def test_flows_double_while_they_bring_more_and_end_when_they_do_not():
    made, octets, running, added = ramp(), [], 1, []
    rates = {1: 100, 2: 200, 4: 390, 8: 391}
    while not made.done:
        octets.append(rates[running])
        more = made.more(slices(octets), running, 31 - running, 0.1)
        if more:
            running += more
            added.append(more)
    assert added == [1, 2, 4]


def test_never_more_than_are_open():
    made = ramp()
    assert made.more(slices([100] * 20), 1, 0, 0.1) == 0
    assert made.done


def test_all_that_are_left_begin_at_once_when_a_third_of_the_budget_is_gone():
    made = ramp()
    assert made.more(slices([100] * 5), 1, 7, MOST_OF_BUDGET) == 7
    assert made.done


class Line:
    """A line driven by the schedule: octets per second by time and flows."""

    def __init__(self, rate, plan=PLAN, max_bytes=10**12, counted=True):
        self.schedule = TransferSchedule(plan, deadline_s=60.0, max_bytes=max_bytes)
        self.rate, self.counted = rate, counted
        self.running, self.octets, self.opened, self.at_s = 0, 0.0, 0, 0.0
        self.ends, self.counts, self.flows = [], [], []

    def sight(self):
        return Sight(
            at_s=self.at_s,
            ready=self.opened - self.running,
            running=self.running,
            bytes=int(self.octets) if self.counted else None,
            first_byte_s=FIRST_S if self.octets else None,
        )

    def run(self):
        closes = False
        while True:
            if closes:
                self.close_slice()
            step = self.schedule.next_step(self.sight())
            closes = isinstance(step, Look) and step.closes_slice
            if isinstance(step, Stop):
                return step
            self.do(step)

    def close_slice(self):
        self.counts.append(int(self.octets) - sum(self.counts))
        self.ends.append(self.at_s - self.schedule.origin_s)
        self.flows.append(self.running)

    def do(self, step):
        if isinstance(step, Open):
            self.opened, self.at_s = step.flows, 0.05
        elif isinstance(step, Begin):
            waiting = self.opened - self.running
            self.running += waiting if step.flows is None else min(waiting, step.flows)
        else:
            from_s = max(self.at_s, FIRST_S)
            middle_s = (from_s + step.at_s) / 2 - FIRST_S
            self.octets += self.rate(middle_s, self.running) * max(0.0, step.at_s - from_s)
            self.at_s = step.at_s

    def stored(self, stop):
        return Transfer(
            counted_by=CountedBy.CLIENT,
            ended=stop.ended,
            flows=max(self.flows),
            slice_end_s=tuple(self.ends),
            slice_bytes=tuple(self.counts),
            slice_flows=tuple(self.flows),
            longest_s=self.schedule.longest_s,
        )


def uneven(rate, part):
    return lambda t, _flows: rate * (1 + part * (int(t / SLICE_S) % 7 - 3) / 3)


def test_a_steady_line_ends_at_the_first_look_with_two_flows():
    line = Line(uneven(12.5e6, 0.01))
    assert line.run() == Stop(ended=Ended.INTERVAL)
    assert line.ends[-1] == pytest.approx(3.4, abs=SLICE_S)
    assert sorted(set(line.flows)) == [1, 2]


def test_the_stored_transfer_gives_the_interval_that_ended_it():
    line = Line(uneven(12.5e6, 0.02))
    found = throughput_statistics(line.stored(line.run()), Direction.DOWN)
    half = (found.high_bps - found.low_bps) / 2
    assert half <= PLAN.precision * found.goodput_bps
    assert found.single_flow_bps == pytest.approx(100e6, rel=0.01)
    assert found.goodput_bps == pytest.approx(100e6, rel=0.005)


def test_a_line_that_each_flow_fills_in_part_gets_as_many_as_it_needs():
    line = Line(lambda _t, flows: min(12.5e6, flows * 4e6))
    line.run()
    found = throughput_statistics(line.stored(Stop(ended=Ended.INTERVAL)), Direction.DOWN)
    assert max(line.flows) == 8
    assert found.goodput_bps == pytest.approx(100e6, rel=0.01)
    assert found.single_flow_bps == pytest.approx(32e6, rel=0.01)


def test_a_wide_interval_ends_with_the_time():
    def swinging(t, _flows):
        return 12.5e6 * (1.5 if int(t / 0.7) % 2 else 0.5)

    line = Line(swinging)
    assert line.run() == Stop(ended=Ended.TIME)
    assert line.ends[-1] == pytest.approx(PLAN.seconds)


def test_a_deep_bucket_is_waited_for():
    """25 MB at 200 on a line of 100 Mbit/s lasts 2 s; the sustained rate is what counts."""
    line = Line(lambda t, _flows: 25e6 if t < 2.0 else 12.5e6)
    stop = line.run()
    found = throughput_statistics(line.stored(stop), Direction.DOWN)
    assert stop.ended is Ended.INTERVAL
    assert found.goodput_bps == pytest.approx(100e6, rel=0.01)
    assert found.burst_bps == pytest.approx(200e6, rel=0.02)


def test_a_data_cap_ends_it_before_the_interval_does():
    line = Line(uneven(12.5e6, 0.01), max_bytes=20_000_000)
    assert line.run() == Stop(ended=Ended.DATA)
    assert sum(line.counts) <= 20_000_000


def test_a_healthy_line_needs_less_than_half_the_data_of_ten_seconds():
    line = Line(uneven(12.5e6, 0.01))
    line.run()
    assert sum(line.counts) < 12.5e6 * 10 / 2


def test_without_a_count_all_flows_begin_and_time_ends_it():
    line = Line(uneven(12.5e6, 0.01), counted=False)
    line.close_slice = lambda: None
    assert line.run() == Stop(ended=Ended.TIME)
    assert line.running == PLAN.flows


def test_fixed_runs_all_flows_for_all_seconds():
    plan = ThroughputPlan(mode="fixed", seconds=2.0, flows=3)
    line = Line(uneven(12.5e6, 0.01), plan=plan)
    assert line.run() == Stop(ended=Ended.TIME)
    assert set(line.flows) == {3}
    assert line.ends[-1] == pytest.approx(2.0)
    assert line.schedule.longest_s is None
