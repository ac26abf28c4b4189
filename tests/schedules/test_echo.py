import pytest
from hypothesis import given
from hypothesis import strategies as st

from agent.measurements import EchoOutcome
from agent.schedules.echo import EchoSchedule
from agent.schedules.far import FarReport, Reflection

INTERVAL_S = 0.01
WAITING_S = 1.0


def schedule(count=4, **kwargs):
    return EchoSchedule(
        **{
            "count": count,
            "interval_s": INTERVAL_S,
            "waiting_s": WAITING_S,
            "start_s": 5.0,
            "epoch_ns": 0,
        }
        | kwargs
    )


def send_all(echo, count):
    for number in range(count):
        assert echo.take(5.0 + number * INTERVAL_S) == number


def test_probes_leave_on_a_fixed_clock_whether_answered_or_not():
    # RFC 3432 §3 (from memory): a periodic stream has a fixed spacing.
    echo = schedule(3)
    due = []
    while (at_s := echo.next_send_s()) is not None:
        due.append(at_s)
        echo.take(at_s + 0.004)
    assert due == pytest.approx([5.0, 5.01, 5.02])


def test_a_sender_that_fell_behind_moves_its_clock_on_instead_of_bursting():
    echo = schedule(3)
    echo.take(5.0)
    echo.take(5.5)
    assert echo.next_send_s() == pytest.approx(5.51)


def test_every_sequence_number_has_its_outcome():
    echo = schedule(5)
    send_all(echo, 5)
    echo.on_received(0, 5.02)
    echo.on_received(1, 6.5)
    echo.on_error(2, "192.0.2.1", "3/1")
    echo.on_unsent(4)
    series = echo.series(now_s=9.0, payload_bytes=44)
    assert series.outcome == (
        EchoOutcome.ANSWERED,
        EchoOutcome.LATE,
        EchoOutcome.UNREACHABLE,
        EchoOutcome.LOST,
        EchoOutcome.UNSENT,
    )
    assert series.rtt_ms[:2] == pytest.approx((20.0, 1490.0))
    assert series.rtt_ms[2:] == (None, None, None)
    assert series.error_from == ((2, "192.0.2.1", "3/1"),)
    assert (series.waiting_s, series.interval_s, series.payload_bytes) == (1.0, 0.01, 44)


def test_an_answer_after_an_error_is_an_answer():
    echo = schedule(1)
    echo.take(5.0)
    echo.on_error(0, "192.0.2.1", "11/0")
    echo.on_received(0, 5.1)
    assert echo.series(now_s=9.0, payload_bytes=44).outcome == (EchoOutcome.ANSWERED,)


def test_copies_and_order_of_arrival():
    # RFC 4737 §7.2 Table 2: arrival 1,2,3,4,7,5,6,8,9,10, here counted from zero; RFC 5560 counts
    # copies of each packet.
    arrival = [0, 1, 2, 3, 6, 4, 5, 7, 8, 9]
    echo = schedule(10)
    send_all(echo, 10)
    for i, number in enumerate(arrival):
        echo.on_received(number, 5.2 + i * 0.001)
    echo.on_received(3, 5.3)
    series = echo.series(now_s=9.0, payload_bytes=44)
    assert list(series.arrival_order) == arrival
    assert series.copies == (1, 1, 1, 2, 1, 1, 1, 1, 1, 1)
    assert series.rtt_ms[3] == pytest.approx(173.0)


def test_the_kernel_word_on_when_a_probe_left_replaces_the_first():
    echo = schedule(1)
    echo.take(5.0)
    echo.on_received(0, 5.02)
    echo.on_sent(0, 5.005)
    assert echo.series(now_s=9.0, payload_bytes=44).rtt_ms == pytest.approx((15.0,))


def reflected(received_ms, sent_ms, count=0):
    return Reflection(
        count=count, received_ns=round(received_ms * 1e6), sent_ns=round(sent_ms * 1e6)
    )


def test_the_time_in_the_reflector_is_removed():
    # RFC 5905 §8: T1..T4 = 0, 55, 60, 20 ms give a delay of 15 ms, arithmetic.
    echo = schedule(1, start_s=0.0)
    echo.take(0.0)
    echo.on_received(0, 0.020, reflected(55, 60))
    series = echo.series(now_s=9.0, payload_bytes=44)
    assert series.rtt_ms == pytest.approx((15.0,))
    # One-way differences hold the clock offset of 47.5 ms: their sum is the delay.
    assert series.forward_ms == pytest.approx((55.0,))
    assert series.backward_ms == pytest.approx((-40.0,))


@pytest.mark.parametrize("stamps", [(60, 55), (55, 85)])
def test_a_reflector_time_that_cannot_be_is_not_removed(stamps):
    echo = schedule(1, start_s=0.0)
    echo.take(0.0)
    echo.on_received(0, 0.020, reflected(*stamps))
    assert echo.series(now_s=9.0, payload_bytes=44).rtt_ms == pytest.approx((20.0,))


def test_a_cut_series_ends_before_the_first_probe_that_may_still_be_answered():
    echo = schedule(6)
    send_all(echo, 6)
    for number in (0, 2, 5):
        echo.on_received(number, 5.06)
    early = echo.series(now_s=5.1, payload_bytes=44)
    assert early.outcome == (EchoOutcome.ANSWERED,)
    assert early.arrival_order == (0,)
    later = echo.series(now_s=6.015, payload_bytes=44)
    assert later.outcome == (EchoOutcome.ANSWERED, EchoOutcome.LOST, EchoOutcome.ANSWERED)


def test_the_end_is_reached_when_all_are_answered_or_waited_for():
    echo = schedule(2)
    send_all(echo, 2)
    assert not echo.finished(5.5)
    assert echo.finished(6.02)
    echo.on_received(0, 5.5)
    echo.on_error(1, "192.0.2.1", "3/3")
    assert echo.finished(5.5)


def test_late_answers_are_noted_for_a_while_after_the_last_waiting_time():
    echo = schedule(2, tail_s=0.5)
    send_all(echo, 2)
    echo.on_received(0, 5.02)
    assert not echo.finished(6.02)
    echo.on_received(1, 6.4)
    assert echo.finished(6.4)
    series = echo.series(now_s=6.4, payload_bytes=44)
    assert series.outcome == (EchoOutcome.ANSWERED, EchoOutcome.LATE)
    assert series.rtt_ms[1] == pytest.approx(1390.0)


def test_nothing_is_waited_for_in_the_tail_where_all_were_answered():
    echo = schedule(1, tail_s=0.5)
    send_all(echo, 1)
    assert not echo.finished(6.3)
    assert echo.finished(6.51)
    echo.on_received(0, 6.3)
    assert echo.finished(6.3)


def test_silence_is_told_once_the_first_probes_were_waited_for_in_vain():
    echo = schedule(4)
    send_all(echo, 4)
    assert not echo.silent_for(3, 6.019)
    assert echo.silent_for(3, 6.021)
    assert not echo.silent_for(5, 9.0)
    echo.on_received(3, 6.022)
    assert not echo.silent_for(3, 9.0)


def test_an_error_is_no_silence():
    echo = schedule(1)
    send_all(echo, 1)
    echo.on_error(0, "192.0.2.1", "3/13")
    assert not echo.silent_for(1, 9.0)


def test_the_far_log_says_in_which_direction_each_probe_was_lost():
    echo = schedule(4)
    send_all(echo, 4)
    echo.on_received(0, 5.02, reflected(1, 1))
    report = FarReport(received=3, order=((0, 1), (3, 1), (2, 1)))
    series = echo.series(now_s=9.0, payload_bytes=44, report=report)
    assert series.far_received == (True, False, True, True)
    assert series.far_order == (0, 3, 2)


def test_echo_without_far_stamps_says_nothing_of_the_far_end():
    echo = schedule(1)
    echo.take(5.0)
    echo.on_received(0, 5.02)
    series = echo.series(now_s=9.0, payload_bytes=44)
    assert (series.far_received, series.far_order) == (None, None)
    assert (series.forward_ms, series.backward_ms) == (None, None)


@given(
    st.lists(
        st.tuples(st.sampled_from(["answer", "copy", "error", "unsent"]), st.integers(0, 9)),
        max_size=40,
    ),
    st.floats(5.0, 8.0),
)
def test_columns_are_whole_whatever_happens(events, now_s):
    echo = schedule(10)
    send_all(echo, 10)
    for what, number in events:
        if what == "error":
            echo.on_error(number, "192.0.2.1", "3/3")
        elif what == "unsent":
            echo.on_unsent(number)
        else:
            echo.on_received(number, 5.3)
    series = echo.series(now_s=now_s, payload_bytes=44)
    columns = (series.sent_s, series.rtt_ms, series.outcome, series.copies)
    assert len({len(column) for column in columns}) == 1
    assert len(set(series.arrival_order)) == len(series.arrival_order)
    answered = [n for n, copies in enumerate(series.copies) if copies]
    assert sorted(series.arrival_order) == answered
