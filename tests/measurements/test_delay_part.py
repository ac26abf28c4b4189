"""A part of a delay series keeps every column in step and counts anew from 0."""

from hypothesis import given
from hypothesis import strategies as st

from agent.measurements import EchoOutcome, EchoSeries, WebAttempt

A, LOST = EchoOutcome.ANSWERED, EchoOutcome.LOST
WHOLE = EchoSeries(
    waiting_s=1.0,
    interval_s=0.5,
    payload_bytes=44,
    sent_s=(0.0, 0.5, 1.0, 1.5, 2.0),
    rtt_ms=(10.0, 11.0, None, 13.0, 14.0),
    outcome=(A, A, LOST, A, A),
    copies=(1, 1, 0, 2, 1),
    arrival_order=(1, 0, 4, 3),
    far_received=(True, True, False, True, True),
    far_order=(1, 0, 3, 4),
    forward_ms=(1.0, 1.1, None, 1.3, 1.4),
    backward_ms=(9.0, 9.1, None, 9.3, 9.4),
    error_from=((2, "192.0.2.1", "3/1"),),
    foreign=(WebAttempt(sent_s=0.4), WebAttempt(sent_s=0.6)),
    load="down",
)


def test_a_part_counts_anew():
    part = WHOLE.between(0.5, 2.0)
    assert part.sent_s == (0.5, 1.0, 1.5)
    assert part.rtt_ms == (11.0, None, 13.0)
    assert part.outcome == (A, LOST, A)
    assert part.copies == (1, 0, 2)
    assert part.arrival_order == (0, 2)
    assert part.far_received == (True, False, True)
    assert part.far_order == (0, 2)
    assert part.forward_ms == (1.1, None, 1.3)
    assert part.backward_ms == (9.1, None, 9.3)
    assert part.error_from == ((1, "192.0.2.1", "3/1"),)
    assert [one.sent_s for one in part.foreign] == [0.6]
    assert (part.load, part.interval_s) == ("down", 0.5)


def test_what_was_not_observed_stays_so():
    bare = EchoSeries(
        waiting_s=1.0,
        interval_s=0.5,
        payload_bytes=44,
        sent_s=(0.0, 0.5),
        rtt_ms=(1.0, 2.0),
        outcome=(A, A),
    )
    part = bare.between(0.5, 9.0)
    assert (part.far_received, part.far_order, part.forward_ms, part.foreign) == (None,) * 4
    assert part.copies == ()


@given(st.floats(-1, 4), st.floats(-1, 4))
def test_two_parts_make_the_whole(first, second):
    low, high = sorted((first, second))
    parts = [WHOLE.between(-9, low), WHOLE.between(low, high), WHOLE.between(high, 9)]
    assert sum((part.sent_s for part in parts), ()) == WHOLE.sent_s
    assert sum((part.rtt_ms for part in parts), ()) == WHOLE.rtt_ms
    assert sum(len(part.arrival_order) for part in parts) == len(WHOLE.arrival_order)
