"""Delay series: what counts as sent and lost, directions, and the laws of the figures."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from agent.measurements import EchoOutcome, EchoSeries
from agent.stats.delay import delay_statistics, round_trip
from agent.stats.proportions import attempts_to_prove, wilson
from agent.stats.quantiles import percentile, quantile_interval

A, LATE, LOST = EchoOutcome.ANSWERED, EchoOutcome.LATE, EchoOutcome.LOST
UNSENT, REFUSED = EchoOutcome.UNSENT, EchoOutcome.UNREACHABLE


def series(outcomes, rtt_ms=None, **more):
    rtt = rtt_ms or [10.0 if o in (A, LATE) else None for o in outcomes]
    fields = {
        "waiting_s": 1.0,
        "interval_s": 0.01,
        "payload_bytes": 44,
        "sent_s": tuple(i * 0.01 for i in range(len(outcomes))),
        "rtt_ms": tuple(rtt),
        "outcome": tuple(outcomes),
        "copies": tuple(int(o is A) for o in outcomes),
        "arrival_order": tuple(i for i, o in enumerate(outcomes) if o is A),
    }
    return EchoSeries(**{**fields, **more})


def test_late_and_refused_are_lost_and_unsent_is_not_sent():
    found = delay_statistics(series([A, LATE, LOST, REFUSED, UNSENT]))
    assert (found.sent, found.received, found.late) == (4, 1, 1)
    assert found.loss_ratio == 0.75
    assert found.bursts == (3,)


def test_where_answers_are_limited_silence_is_no_loss_and_no_delay():
    """RFC 1812 §4.3.2.8: a host may send fewer errors than it is asked for."""
    found = delay_statistics(series([A, A, A, LOST, LOST, LOST, LOST], answers_limited=True))
    assert (found.sent, found.received) == (7, 3)
    assert (found.loss_ratio, found.loss_low, found.loss_high) == (None, None, None)
    assert found.bursts == ()
    assert found.rtt_ms.median == 10.0


def test_bursts_in_sending_order():
    found = delay_statistics(series([LOST, LOST, A, LOST, A, A, LOST, LOST, LOST]))
    assert found.bursts == (2, 1, 3)


def test_directions_apart():
    """Forward: not arrived of all sent; backward: not answered of those that arrived."""
    outcomes = [A] * 6 + [LOST] * 4
    far = (True,) * 7 + (False,) * 3
    found = delay_statistics(series(outcomes, far_received=far))
    assert found.forward_loss_ratio == pytest.approx(3 / 10)
    assert found.backward_loss_ratio == pytest.approx(1 / 7)
    assert found.backward_sent == 7
    there, back = found.forward_bounds, found.backward_bounds
    assert (there.independent_low_ratio, there.independent_high_ratio) == wilson(3, 10)
    assert (back.independent_low_ratio, back.independent_high_ratio) == wilson(1, 7)
    assert (there.bursty_low_ratio, there.bursty_high_ratio) == (
        found.forward_low,
        found.forward_high,
    )


def test_an_answer_shows_arrival_whatever_the_far_end_says():
    found = delay_statistics(series([A, LOST], far_received=(False, True)))
    assert (found.forward_loss_ratio, found.backward_loss_ratio) == (0.0, 0.5)


@pytest.mark.parametrize("far", [None, (True, None)])
def test_no_direction_without_word_on_every_lost_probe(far):
    found = delay_statistics(series([A, LOST], far_received=far))
    assert found.forward_loss_ratio is None
    assert found.backward_loss_ratio is None


def test_nothing_sent_leaves_everything_undefined():
    found = delay_statistics(series([UNSENT, UNSENT]))
    assert found.sent == 0
    assert found.loss_ratio is None
    assert found.loss_high is None
    assert found.rtt_ms.median is None
    assert found.pdv_ms is None


def test_percentiles_need_their_number_of_probes():
    assert round_trip([1.0] * 58).p95 is None
    assert round_trip([1.0] * 59).p95 == 1.0
    assert round_trip([1.0] * 298).p99 is None
    assert round_trip([1.0] * 299).p99 == 1.0


def test_a_percentile_that_loss_makes_infinite_is_not_a_number():
    """RFC 2681 §4.1: with more loss than 1 - p the percentile is infinite."""
    found = round_trip([1.0] * 95, lost=5)
    assert found.p95 == 1.0
    assert round_trip([1.0] * 94, lost=6).p95 is None
    assert round_trip([1.0] * 40, lost=60).median is None


def test_duplicates_and_reordering_are_counted():
    found = delay_statistics(series([A, A, A, A], copies=(1, 3, 1, 2), arrival_order=(0, 2, 1, 3)))
    assert (found.duplicates, found.reordered) == (3, 1)


@pytest.mark.parametrize(("limit", "needed"), [(0.01, 381), (0.005, 765), (0.001, 3838)])
def test_probes_that_prove_a_limit(limit, needed):
    """Solved from Wilson's bound: 0 of n proves `limit` from z²(1 - limit)/limit on."""
    assert attempts_to_prove(limit) == needed
    assert wilson(0, needed)[1] <= limit < wilson(0, needed - 1)[1]


delays = st.lists(st.floats(0.01, 1e4), min_size=1, max_size=120)


@given(delays, st.integers(0, 20), st.sampled_from([0.5, 2.0, 1024.0]))
def test_scaling_delays_scales_every_figure(values, lost, factor):
    plain = round_trip(values, lost)
    scaled = round_trip([v * factor for v in values], lost)
    for name in ("min", "median", "mean", "p95", "p99", "max"):
        before, after = getattr(plain, name), getattr(scaled, name)
        assert (before is None) == (after is None)
        assert before is None or after == pytest.approx(before * factor)


@given(delays, st.randoms(use_true_random=False))
def test_order_of_delays_does_not_matter(values, random):
    shuffled = list(values)
    random.shuffle(shuffled)
    before, after = round_trip(values), round_trip(shuffled)
    assert before == after


@given(delays)
def test_figures_are_ordered_and_inside_the_sample(values):
    found = round_trip(values)
    assert found.min <= found.median <= found.max
    assert found.min - 1e-9 <= found.mean <= found.max + 1e-9
    bounds = quantile_interval(values, 0.5)
    if bounds is not None:
        assert bounds[0] <= found.median <= bounds[1]


@given(delays, st.floats(0, 100))
def test_percentile_is_the_smallest_value_that_covers(values, percent):
    """The definition itself (RFC 2330 §11.3), counted over all values."""
    found = percentile(values, percent)
    share = percent / 100 - 1e-9 / len(values)
    covering = [x for x in values if sum(v <= x for v in values) / len(values) >= share]
    assert found == (min(covering) if percent / 100 * len(values) > 1e-9 else -math.inf)


@given(st.lists(st.sampled_from([A, LOST, LATE]), min_size=2, max_size=200), st.data())
def test_one_more_loss_never_lowers_loss_or_raises_a_bound(outcomes, data):
    answered = [i for i, o in enumerate(outcomes) if o is A]
    if not answered:
        return
    lost = data.draw(st.sampled_from(answered))
    worse = [LOST if i == lost else o for i, o in enumerate(outcomes)]
    before, after = delay_statistics(series(outcomes)), delay_statistics(series(worse))
    assert after.loss_ratio > before.loss_ratio
    # Of independent losses alone: one more loss may end a run, and runs then tell more.
    assert after.loss_bounds.independent_low_ratio >= before.loss_bounds.independent_low_ratio
    assert after.loss_bounds.independent_high_ratio >= before.loss_bounds.independent_high_ratio
    assert after.loss_low <= after.loss_ratio <= after.loss_high


@given(st.integers(0, 400), st.integers(1, 400), st.floats(0.5, 0.999))
def test_intervals_contain_their_estimate_and_grow_with_confidence(count, of, confidence):
    count = min(count, of)
    low, high = wilson(count, of, confidence)
    assert 0 <= low <= count / of <= high <= 1
    wider = wilson(count, of, (1 + confidence) / 2)
    assert wider[0] <= low
    assert wider[1] >= high
