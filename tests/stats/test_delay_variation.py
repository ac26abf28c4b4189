"""Delay variation of a stream, and the new figures of a whole series."""

import pytest
from hypothesis import given
from hypothesis import strategies as st
from published import vector

from agent.measurements import EchoOutcome, EchoSeries
from agent.stats.delay import delay_statistics
from agent.stats.quantiles import edf, finite, percentile
from agent.stats.variation import variation

A, LATE, LOST = EchoOutcome.ANSWERED, EchoOutcome.LATE, EchoOutcome.LOST


def series(rtt_ms, **more):
    count = len(rtt_ms)
    fields = {
        "waiting_s": 1.0,
        "interval_s": 0.02,
        "payload_bytes": 44,
        "sent_s": tuple(n * 0.02 for n in range(count)),
        "rtt_ms": tuple(rtt_ms),
        "outcome": tuple(LOST if rtt is None else A for rtt in rtt_ms),
        "copies": tuple(int(rtt is not None) for rtt in rtt_ms),
        "arrival_order": tuple(n for n, rtt in enumerate(rtt_ms) if rtt is not None),
    }
    return EchoSeries(**{**fields, **more})


def test_the_worked_example_of_rfc_5481():
    """RFC 5481 §4.4, figure 1: IPDV -10 to 10, PDV up to 15; ranges 20 and 15."""
    v = vector("ipdv-pdv")
    delays = v["inputs"]["delays_ms"]
    found = variation(delays, range(len(delays)))
    assert (found.count, found.pairs) == (5, 4)
    assert found.ipdv_max_ms - found.ipdv_min_ms == 20
    assert found.pdv_max_ms == max(v["expected"]["pdv_ms"]) == 15
    # RFC 3550 §6.4.1 over the same transits, worked out in the vector.
    assert found.jitter_ms == pytest.approx(vector("rtp-jitter-float")["expected"]["jitter_ms"][-1])


def test_pairs_across_a_loss_are_left_out():
    """RFC 3393 and RFC 5481 §2: undefined where either packet of the pair is lost."""
    found = variation([10.0, 12.0, None, 50.0, 49.0], (0, 1, 3, 4))
    assert (found.pairs, found.ipdv_min_ms, found.ipdv_max_ms) == (2, -1.0, 2.0)


def test_jitter_follows_the_order_of_arrival():
    """RFC 3550 §6.4.1: of 10, 30, 10 in sending order the swapped arrival has one step only."""
    there = variation([10.0, 30.0, 10.0], (0, 1, 2))
    swapped = variation([10.0, 30.0, 10.0], (0, 2, 1))
    first = 20 / 16
    assert there.jitter_ms == pytest.approx(first + (20 - first) / 16)
    assert swapped.jitter_ms == pytest.approx(20 / 16)
    assert variation([10.0, 30.0], ()).jitter_ms is None


def test_percentiles_need_their_number_of_delays():
    few, more = ([float(n % 7) for n in range(count)] for count in (58, 59))
    assert variation(few, ()).pdv_p95_ms is None
    assert variation(more, ()).pdv_p95_ms == 6.0
    assert variation(more, ()).pdv_p99_ms is None
    assert variation([1.0, None], ()) is None


@given(st.lists(st.integers(0, 1000), min_size=2, max_size=80), st.integers(-(10**6), 10**6))
def test_clocks_that_disagree_change_nothing(delays, offset):
    order = range(len(delays))
    assert variation([d + offset for d in delays], order) == variation(delays, order)


def test_each_way_by_its_own_stamps():
    forward, backward = (100.0, 130.0, None, 100.0), (-90.0, -90.0, None, -85.0)
    rtt = (10.0, 40.0, None, 15.0)
    found = delay_statistics(
        series(rtt, forward_ms=forward, backward_ms=backward, far_order=(0, 1, 3))
    )
    assert (found.forward_variation.pdv_max_ms, found.backward_variation.pdv_max_ms) == (30.0, 5.0)
    assert found.variation.pdv_max_ms == 30.0
    assert found.forward_variation.jitter_ms == pytest.approx((30 / 16) * 15 / 16 + 30 / 16)
    stepped = delay_statistics(series(rtt, forward_ms=forward, clock_steps=1))
    assert stepped.forward_variation is None
    assert stepped.variation is not None


def test_a_late_answer_varies_nothing():
    found = delay_statistics(series((10.0, 12.0, 900.0), outcome=(A, A, LATE)))
    assert found.variation.pdv_max_ms == 2.0


def test_order_and_copies_of_both_ways():
    """RFC 4737 §7.1 and RFC 5560 §5.3: the streams of the examples as a series of ours."""
    v = vector("reorder-one")
    order = tuple(n - 1 for n in v["inputs"]["arrival"])
    sent = dict(zip(order, v["inputs"]["src_ms"], strict=True))
    came = dict(zip(order, v["inputs"]["dst_ms"], strict=True))
    found = delay_statistics(
        series(
            tuple(float(came[n] - sent[n]) for n in range(10)),
            sent_s=tuple(sent[n] / 1000 for n in range(10)),
            arrival_order=order,
            copies=(3, 1, 3, 1, 1, 1, 1, 1, 1, 1),
            far_order=tuple(range(10)),
            far_copies=(2,) * 10,
        )
    )
    assert (found.reordering.reordered, found.reordering.extent_max) == (1, 4)
    assert found.reordering.late_max_ms == pytest.approx(v["expected"]["late_ms"][0])
    assert found.far_reordering.reordered == 0
    assert (found.duplication_ratio, found.replicated_ratio) == pytest.approx((0.4, 0.2))
    assert (found.far_duplication_ratio, found.far_replicated_ratio) == (1.0, 1.0)


def test_order_of_each_way_by_the_far_ends_own_numbers():
    """Probes 1 and 2 change places on the way there: RFC 4737 counts one there and none back."""
    there = delay_statistics(
        series((10.0,) * 4, far_count=(0, 2, 1, 3), arrival_order=(0, 2, 1, 3))
    )
    assert there.far_reordering.reordered == there.reordering.reordered == 1
    assert there.backward_reordering.reordered == 0
    back = delay_statistics(series((10.0,) * 4, far_count=(0, 1, 2, 3), arrival_order=(0, 2, 1, 3)))
    assert back.far_reordering.reordered == 0
    assert back.backward_reordering.reordered == back.reordering.reordered == 1
    assert delay_statistics(series((10.0,) * 4)).backward_reordering is None


def test_gaps_are_runs_of_answers_between_losses():
    found = delay_statistics(series((1.0, None, 1.0, 1.0, None, None, 1.0, None, 1.0)))
    assert found.bursts == (1, 2, 1)
    assert found.gaps == (2, 1)


def test_voice_only_where_loss_is_known():
    assert delay_statistics(series([20.0] * 100)).voice.one_way_ms == 90.0
    assert delay_statistics(series([20.0] * 100, answers_limited=True)).voice is None


def test_share_at_or_under_a_delay_and_a_percentile_without_end():
    """RFC 2681 §4.4 and §4.1."""
    v = vector("rtd-inverse-percentile")
    sample = [float("inf") if d == "lost" else d for d in v["inputs"]["delays_ms"]]
    share = edf(sample, v["inputs"]["threshold_ms"])
    assert share * 100 == v["expected"]["percent"]
    v = vector("rtd-high-percentile-lost")
    sample = [float("inf") if d == "lost" else d for d in v["inputs"]["delays_ms"]]
    assert v["expected"]["percentile_ms"] == "infinite"
    assert finite(percentile(sample, v["inputs"]["percent"])) is None
