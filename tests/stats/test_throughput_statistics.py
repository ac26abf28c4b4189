"""Transfers: the cut, the mean over time, and how often its interval holds the truth."""

import math
import random

import pytest
from hypothesis import given
from hypothesis import strategies as st

from agent.measurements import CountedBy, Direction, Ended, TcpCounters, Transfer
from agent.stats.mean_rate import mean_rate
from agent.stats.slices import slices_of
from agent.stats.steady import steady_from
from agent.stats.throughput import throughput_statistics

SEGMENT = 1448


def transfer(ends, octets, **more):
    fields = {
        "counted_by": CountedBy.CLIENT,
        "ended": Ended.TIME,
        "flows": 6,
        "slice_end_s": tuple(ends),
        "slice_bytes": tuple(octets),
    }
    return Transfer(**{**fields, **more})


def line(rate_bps, rng, *, seconds=6.0, rtt_s=0.02, spread=0.0, piece=SEGMENT, memory=0.0):
    """A line of a true mean rate: exponential ramp, wobble, whole pieces, uneven slice ends."""
    ends, octets, now, owed, wobble = [], [], 0.0, 0.0, 0.0
    for i in range(int(seconds / 0.05)):
        end = (i + 1) * 0.05 + rng.uniform(-0.001, 0.001)
        wobble = memory * wobble + rng.gauss(0, spread * math.sqrt(1 - memory * memory))
        ramp = 2.0 ** min(0.0, end / rtt_s - 10)
        owed += rate_bps / 8 * max(0.0, 1 + wobble) * ramp * (end - now)
        whole = int(owed // piece) * piece
        owed -= whole
        ends.append(end)
        octets.append(whole)
        now = end
    return ends, octets


@pytest.mark.parametrize("rtt_s", [0.005, 0.02, 0.08])
@pytest.mark.parametrize("rate_bps", [5e6, 25e6, 100e6, 940e6])
def test_shaped_line_within_a_third_of_a_percent(rate_bps, rtt_s):
    piece = SEGMENT if rate_bps < 50e6 else 45 * SEGMENT
    ends, octets = line(rate_bps, random.Random(7), rtt_s=rtt_s, piece=piece)
    found = throughput_statistics(transfer(ends, octets), Direction.DOWN)
    assert abs(found.goodput_bps / rate_bps - 1) <= 0.003
    assert found.low_bps <= rate_bps <= found.high_bps
    assert (found.high_bps - found.low_bps) / 2 <= 0.01 * rate_bps
    assert found.ramp_s + found.used_s == pytest.approx(ends[-1])


@pytest.mark.parametrize(
    ("spread", "memory", "least"), [(0.0, 0.0, 0.99), (0.05, 0.0, 0.92), (0.05, 0.5, 0.88)]
)
def test_interval_holds_the_true_mean(spread, memory, least):
    """Of 300 simulated lines; `memory` is the likeness of neighbouring slices of 50 ms.

    Resemblance that reaches over more than a tenth of the transfer is not fully covered.
    """
    rng = random.Random(11)
    held = 0
    for _ in range(300):
        ends, octets = line(100e6, rng, spread=spread, memory=memory)
        found = throughput_statistics(transfer(ends, octets), Direction.DOWN)
        held += found.low_bps <= 100e6 <= found.high_bps
    assert held / 300 >= least


def test_a_fast_start_is_cut_and_named():
    """Half a second at twice the rate, as from a token bucket, then the sustained rate."""
    ends = [(i + 1) * 0.05 for i in range(100)]
    octets = [125_000 if i < 10 else 62_500 for i in range(100)]
    found = throughput_statistics(transfer(ends, octets), Direction.DOWN)
    assert found.goodput_bps == pytest.approx(10e6)
    assert found.burst_bps == pytest.approx(20e6)
    assert found.ramp_s == pytest.approx(0.5)


def test_a_rough_line_keeps_its_start_but_for_slow_start():
    """Stalls and bursts throughout, as behind a shallow queue; slow start of 8 x 50 ms."""
    ends = [(i + 1) * 0.05 for i in range(120)]
    octets = [30_000, 60_000, 125_000, 35_000] * 30
    plain = throughput_statistics(transfer(ends, octets), Direction.DOWN)
    assert plain.ramp_s < 0.3
    told = transfer(ends, octets, tcp=(counters(min_rtt_ms=50.0),))
    found = throughput_statistics(told, Direction.DOWN)
    assert 0.4 <= found.ramp_s < 0.6
    assert found.goodput_bps == pytest.approx(10e6, rel=0.01)


def test_a_stall_is_left_out_of_an_even_line():
    """Nothing for a quarter of a second, then what had piled up at once."""
    ends = [(i + 1) * 0.05 for i in range(120)]
    octets = [62_500 + 100 * (i % 3) for i in range(120)]
    octets[20:26] = [0, 0, 0, 0, 0, 375_000]
    found = throughput_statistics(transfer(ends, octets), Direction.DOWN)
    assert found.goodput_bps == pytest.approx(10.016e6, rel=1e-3)
    assert found.high_bps - found.low_bps < 0.02 * found.goodput_bps


def test_constant_slices_are_used_whole():
    ends = [(i + 1) * 0.05 for i in range(100)]
    found = throughput_statistics(transfer(ends, [62_500] * 100), Direction.DOWN)
    assert found.ramp_s == 0.0
    assert found.goodput_bps == pytest.approx(10e6)
    assert found.burst_bps is None
    assert found.low_bps < found.goodput_bps < found.high_bps


def test_mean_is_weighted_by_time():
    """Uneven slices of one constant rate: the mean of slice rates would be right as well, the
    mean of slices of two rates is not."""
    slices = slices_of([1.0, 1.1, 2.1, 2.2], [1000, 10, 1000, 10])
    assert mean_rate(slices, 0, 0.95).rate == pytest.approx(2020 / 2.2)


def test_too_short_for_an_interval():
    found = throughput_statistics(transfer([0.05, 0.1], [1000, 1000]), Direction.DOWN)
    assert found.goodput_bps == pytest.approx(160_000)
    assert found.low_bps is None


@pytest.mark.parametrize(("ends", "octets"), [([], []), ([0.0], [100])])
def test_no_time_is_no_rate(ends, octets):
    found = throughput_statistics(transfer(ends, octets), Direction.DOWN)
    assert found.goodput_bps is None
    assert found.used_s is None


def test_opening_and_closing_flows_are_left_out():
    ends = [(i + 1) * 0.05 for i in range(60)]
    flows = [1] * 4 + [6] * 52 + [2] * 4
    octets = [10_000] * 4 + [62_500] * 52 + [20_000] * 4
    found = throughput_statistics(transfer(ends, octets, slice_flows=tuple(flows)), Direction.DOWN)
    assert found.goodput_bps == pytest.approx(10e6)


def counters(**more):
    return TcpCounters(at_s=6.0, **more)


def test_retransmissions_and_buffer_delay_of_the_sender_only():
    last = counters(bytes_sent=102_000, bytes_retransmitted=2_000, rtt_ms=32.0, min_rtt_ms=25.0)
    first = counters(bytes_sent=0, bytes_retransmitted=0)
    run = transfer([0.05], [1000], tcp=(last,), tcp_first=(first,))
    up = throughput_statistics(run, Direction.UP)
    assert up.retransmit_ratio == pytest.approx(2 / 102)
    assert up.tcp_efficiency_ratio == pytest.approx(100 / 102)
    assert up.buffer_delay_ratio == pytest.approx(0.28)
    down = throughput_statistics(run, Direction.DOWN)
    assert down.retransmit_ratio is None
    assert down.buffer_delay_ratio is None


def test_one_silent_flow_leaves_retransmissions_unknown():
    known = counters(bytes_sent=10, bytes_retransmitted=0)
    run = transfer([0.05], [1000], tcp=(known, counters()))
    assert throughput_statistics(run, Direction.UP).retransmit_ratio is None


rates = st.lists(st.integers(0, 10**7), min_size=1, max_size=150)


@given(rates)
def test_cut_keeps_three_tenths_and_the_interval_its_estimate(octets):
    ends = [(i + 1) * 0.05 for i in range(len(octets))]
    slices = slices_of(ends, octets)
    assert 0 <= steady_from(slices) <= math.ceil(0.7 * len(slices))
    found = throughput_statistics(transfer(ends, octets), Direction.DOWN)
    assert min(octets) * 160 <= found.goodput_bps + 1e-6
    assert found.goodput_bps <= max(octets) * 160 + 1e-3
    if found.low_bps is not None:
        assert found.low_bps <= found.goodput_bps <= found.high_bps


@given(rates, st.integers(2, 9))
def test_more_octets_at_the_same_times_is_proportionally_faster(octets, factor):
    ends = [(i + 1) * 0.05 for i in range(len(octets))]
    slow = throughput_statistics(transfer(ends, octets), Direction.DOWN)
    fast = throughput_statistics(transfer(ends, [o * factor for o in octets]), Direction.DOWN)
    assert fast.ramp_s == slow.ramp_s
    assert fast.goodput_bps == pytest.approx(slow.goodput_bps * factor)
