"""The parts of the sustained rate: held-back octets, stages, batches, planned looks."""

import math
import random

import pytest
from hypothesis import given
from hypothesis import strategies as st

from agent.measurements import CountedBy, Direction, Ended, Transfer
from agent.stats.held_back import as_arrived
from agent.stats.looks import LOOK_SHARES, look_confidence, looks_passed
from agent.stats.mean_rate import mean_rate
from agent.stats.slices import group_rates, last_of, rate_of, running_rates, slices_of
from agent.stats.stages import PLATEAU_S, Plateau, brought_nothing, plateau, single_flow
from agent.stats.sustained import sustained
from agent.stats.throughput import throughput_statistics

SLICE_S = 0.05


def slices(octets):
    return slices_of([(i + 1) * SLICE_S for i in range(len(octets))], octets)


def octets_of(some):
    return [piece.octets for piece in some]


counts = st.lists(st.integers(0, 10**7), min_size=1, max_size=120)


@given(counts)
def test_no_octet_is_lost_or_added_by_moving_it(octets):
    moved = as_arrived(slices(octets))
    assert sum(octets_of(moved)) == pytest.approx(sum(octets))
    assert min(octets_of(moved)) >= 0
    assert [p.end_s for p in moved] == [p.end_s for p in slices(octets)]


@given(st.lists(st.integers(90, 110), min_size=1, max_size=120))
def test_a_line_that_only_wobbles_stays_as_it_is(octets):
    assert octets_of(as_arrived(slices(octets))) == pytest.approx(octets)


def test_what_came_at_once_fills_the_gap_before_it():
    octets = [100] * 20 + [80, 0, 0, 310, 110] + [100] * 20
    assert (
        octets_of(as_arrived(slices(octets))) == [100] * 20 + [90, 100, 100, 100, 110] + [100] * 20
    )


def test_a_surplus_without_a_gap_stays_where_it_is():
    octets = [100] * 20 + [300] + [100] * 20
    assert octets_of(as_arrived(slices(octets))) == pytest.approx(octets)


def test_a_gap_of_long_ago_is_not_filled():
    octets = [0] * 5 + [100] * 30 + [300] + [100] * 20
    assert octets_of(as_arrived(slices(octets))) == pytest.approx(octets)


@given(counts, st.integers(1, 20))
def test_groups_and_runs_carry_what_their_slices_do(octets, count):
    some = slices(octets)
    assert len(group_rates(some, count)) == min(count, len(some))
    assert running_rates(some, len(some)) == pytest.approx([rate_of(some)])
    assert sum(p.span_s for p in last_of(some, 0.2)) >= min(0.2, some[-1].end_s) - 1e-6


def test_a_stage_in_slow_start_grows_and_an_even_one_is_calm():
    assert plateau(slices([2**i for i in range(15)])).grows
    even = plateau(slices([100, 101] * 8))
    assert even.calm
    assert even.rate == pytest.approx(100.5 / SLICE_S)


@pytest.mark.parametrize(
    ("before", "after", "nothing"),
    [
        ((100, 0.2), (100.5, 0.2), True),
        ((100, 0.2), (103, 0.2), False),
        ((100, 0.2), (97, 0.2), False),  # a burst that ended tells nothing of flows
        ((100, 0.9), (102, 0.9), True),
        ((100, 3.0), (100, 3.0), False),  # so noisy that anything may hide
        ((0, 0.0), (100, 0.2), False),
    ],
)
def test_a_step_that_changed_no_more_than_its_noise_brought_nothing(before, after, nothing):
    stages = [Plateau(rate, error, False) for rate, error in (before, after)]
    assert brought_nothing(*stages, 0.01) is nothing


def test_the_single_flow_is_the_plateau_before_more_began():
    octets = [10, 20, 40] + [50] * 12 + [100] * 30
    flows = [1] * 15 + [2] * 30
    assert single_flow(slices(octets), flows) == pytest.approx(50 / SLICE_S)
    assert single_flow(slices(octets), [2] * 45) is None
    short = int(PLATEAU_S / SLICE_S) - 2
    assert single_flow(slices(octets), [1] * short + [2] * (45 - short)) is None


def test_all_looks_together_spend_just_what_may_miss():
    """Bonferroni over every planned look and the end."""
    planned = [look_confidence(10 * s, 10, 0.95, early=True) for s in LOOK_SHARES]
    last = look_confidence(10, 10, 0.95, early=False)
    assert sum(1 - c for c in [*planned, last]) == pytest.approx(0.05)
    assert min(planned) > 0.99
    assert 0.95 < last < 0.97


def test_an_end_before_any_look_is_a_plain_interval():
    assert look_confidence(1.0, 10, 0.95, early=False) == pytest.approx(0.95)


@pytest.mark.parametrize(("at_s", "passed"), [(3.39, 0), (3.4, 1), (3.3995, 1), (4.2, 2), (10, 5)])
def test_looks_are_planned_on_the_time_since_the_first_byte(at_s, passed):
    assert looks_passed(at_s, 10.0) == passed


def autoregression(rng, memory, count):
    value, values = rng.gauss(0, 1), []
    for _ in range(count):
        value = memory * value + rng.gauss(0, math.sqrt(1 - memory * memory))
        values.append(int(100_000 * (1 + 0.05 * value)))
    return values


@pytest.mark.parametrize("memory", [0.0, 0.5, 0.8])
def test_the_interval_of_slices_that_resemble_each_other_holds_their_mean(memory):
    """1,000 first-order autoregressions of 160 slices; the true mean is known."""
    rng = random.Random(f"resemblance {memory}")
    held = 0
    for _ in range(1000):
        found = mean_rate(slices(autoregression(rng, memory, 160)), 0, 0.95)
        held += found.low <= 100_000 / SLICE_S <= found.high
    assert 930 <= held <= 985


def test_lumps_that_cancel_out_do_not_widen_the_interval():
    """Whole pieces of 40 of 100 octets: the mean is known to about one piece over the time."""
    octets = [((i + 1) * 100 // 40 - i * 100 // 40) * 40 for i in range(80)]
    found = mean_rate(slices(octets), 40, 0.95)
    assert (found.high - found.rate) / found.rate < 0.025


def test_the_stage_before_counts_where_the_last_flows_brought_nothing():
    octets = [10, 20, 40] + [100, 101] * 8 + [100, 101] * 20
    flows = [1] * 19 + [2] * 40
    both = sustained(slices(octets), flows, longest_s=10, early=False, confidence=0.95)
    assert both.used[0].begin_s == pytest.approx(19 * SLICE_S - PLATEAU_S)
    faster = octets[:19] + [150] * 40
    last = sustained(slices(faster), flows, longest_s=10, early=False, confidence=0.95)
    assert last.used[0].begin_s == pytest.approx(19 * SLICE_S)
    assert last.mean.rate == pytest.approx(150 / SLICE_S)


def test_a_burst_in_the_first_stage_leaves_no_figure_of_one_flow():
    """25 MB at 200 of a line of 100 Mbit/s: sustained within 1 %, the burst beside it."""
    octets = [1_250_000] * 40 + [625_000] * 50
    ends = [(i + 1) * SLICE_S for i in range(90)]
    found = throughput_statistics(
        Transfer(
            counted_by=CountedBy.CLIENT,
            ended=Ended.INTERVAL,
            flows=2,
            slice_end_s=tuple(ends),
            slice_bytes=tuple(octets),
            slice_flows=(1,) * 14 + (2,) * 76,
            longest_s=10.0,
        ),
        Direction.DOWN,
    )
    assert found.goodput_bps == pytest.approx(100e6, rel=0.01)
    assert found.burst_bps == pytest.approx(200e6, rel=0.01)
    assert found.single_flow_bps is None
    assert found.ramp_s == pytest.approx(2.0, abs=0.2)


def found_in(before, after):
    flows = [1] * len(before) + [2] * len(after)
    octets = [1000 * n for n in before + after]
    return sustained(slices(octets), flows, longest_s=10, early=True, confidence=0.95)


def test_a_line_that_fell_back_from_the_same_rate_is_not_called_steady():
    """Free, crossed for 0.7 s, then free with the next flow: its even end alone would do."""
    free, crossed = [1000, 1001] * 23, [700, 701] * 7
    fell = found_in([1000, 1001] * 6 + crossed, free)
    assert fell.mean.high - fell.mean.rate < 0.01 * fell.mean.rate
    assert not fell.within(0.01)
    assert found_in([700, 701] * 13, free).within(0.01)


def test_a_calm_that_lasts_long_enough_outweighs_an_early_fall():
    assert found_in([1000, 1001] * 6 + [700, 701] * 3, [1000, 1001] * 40).within(0.01)


def test_the_interval_reaches_further_to_the_side_that_was_seldom_seen():
    """Mostly free and now and then crossed: the true mean may well be lower."""
    busy = (2, 3, 7)
    octets = [400 if i // 16 in busy and i % 2 else 1000 for i in range(160)]
    found = mean_rate(slices(octets), 0, 0.95)
    assert found.rate - found.low > 1.1 * (found.high - found.rate)
    mirrored = mean_rate(slices([1400 - n for n in octets]), 0, 0.95)
    assert mirrored.high - mirrored.rate == pytest.approx(found.rate - found.low)
