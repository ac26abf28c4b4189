"""Loss of each way from the far end's own count, where no word came of every single probe."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from agent.measurements import EchoOutcome, EchoSeries
from agent.stats.delay import delay_statistics
from agent.stats.proportions import wilson

A, LATE, LOST = EchoOutcome.ANSWERED, EchoOutcome.LATE, EchoOutcome.LOST


def statistics(outcomes, **more):
    return delay_statistics(
        EchoSeries(
            waiting_s=1.0,
            interval_s=0.01,
            payload_bytes=44,
            sent_s=tuple(n * 0.01 for n in range(len(outcomes))),
            rtt_ms=tuple(None if o is LOST else 10.0 for o in outcomes),
            outcome=tuple(outcomes),
            **more,
        )
    )


def test_the_far_count_splits_what_single_probes_leave_open():
    # Ten sent, seven answered, of the other three one had reached the far end: 2/10, then 1/8.
    outcomes = [A] * 3 + [LOST] * 3 + [A] * 4
    open_ = (*[True] * 3, *[None] * 3, *[True] * 4)
    found = statistics(outcomes, far_received=open_, far_arrivals=8)
    assert (found.forward_loss_ratio, found.backward_loss_ratio) == (0.2, 0.125)
    assert found.backward_sent == 8
    assert (found.forward_low, found.forward_high) == pytest.approx(wilson(2, 10))
    assert (found.backward_low, found.backward_high) == pytest.approx(wilson(1, 8))
    unknown = statistics(outcomes, far_received=open_)
    assert (unknown.forward_loss_ratio, unknown.backward_loss_ratio) == (None, None)


def test_where_the_far_end_left_answers_out_neither_way_lost_them():
    found = statistics([A, LOST], far_received=(True, False), answers_limited=True)
    assert (found.forward_loss_ratio, found.backward_loss_ratio) == (None, None)


def test_nothing_that_arrived_has_no_way_back():
    found = statistics([LOST, LOST], far_received=(None, None), far_arrivals=0)
    assert (found.forward_loss_ratio, found.backward_loss_ratio) == (1.0, None)


@pytest.mark.parametrize("told", [0, 1, 4, 2**40])
def test_a_count_that_cannot_be_is_not_believed(told):
    found = statistics([A, A, LOST], far_received=(True, True, None), far_arrivals=told)
    assert (found.forward_loss_ratio, found.backward_loss_ratio) == (None, None)


FATES = st.lists(st.sampled_from(["both", "late", "there", "back"]), min_size=1, max_size=50)


@given(FATES)
def test_the_count_gives_the_same_split_as_a_word_on_every_probe(fates):
    outcomes = [{"both": A, "late": LATE}.get(fate, LOST) for fate in fates]
    every = tuple(fate != "there" for fate in fates)
    single = statistics(outcomes, far_received=every)
    counted = statistics(outcomes, far_received=(None,) * len(fates), far_arrivals=sum(every))
    for name in ("forward_loss_ratio", "backward_loss_ratio", "backward_sent"):
        assert getattr(counted, name) == getattr(single, name)
    # Only counted losses tell of no runs: Wilson's interval then.
    bounds = single.forward_bounds
    independent = (bounds.independent_low_ratio, bounds.independent_high_ratio)
    assert (counted.forward_low, counted.forward_high) == independent
