"""Probes after the last of a series, so that the reflector's count tells of its end."""

import pytest

from agent.schedules.echo import CLOSING_S, EchoSchedule
from agent.schedules.far import FarReport, Reflection

INTERVAL_S, WAITING_S = 0.01, 1.02


def schedule(count=3, *, stateful=True, interval_s=INTERVAL_S):
    return EchoSchedule(
        count=count,
        interval_s=interval_s,
        waiting_s=WAITING_S,
        start_s=5.0,
        epoch_ns=0,
        stateful=stateful,
    )


def send_all(echo):
    """Send what is due until the schedule has nothing more; return when each left."""
    left = []
    while (at_s := echo.next_send_s()) is not None:
        echo.take(at_s)
        left.append(at_s)
    return left


def answer(echo, number, count):
    echo.on_received(number, 5.5, Reflection(count=count))


def test_after_the_last_probe_others_follow_until_it_was_waited_for():
    left = send_all(schedule())
    assert left[:3] == pytest.approx([5.0, 5.01, 5.02])
    assert left[3] == pytest.approx(5.02 + CLOSING_S)
    # 1.02 s of waiting hold 20 of them before their end.
    assert len(left) == 3 + 20
    assert left[-1] < 5.02 + WAITING_S


@pytest.mark.parametrize("number", [2, 3])
def test_an_answer_to_the_last_or_to_a_closing_one_ends_them(number):
    echo = schedule()
    for _ in range(4):
        echo.take(echo.next_send_s())
    answer(echo, number, 2)
    assert echo.next_send_s() is None
    assert not echo.finished(5.5)
    assert echo.finished(5.02 + WAITING_S)


def test_a_series_answered_to_its_end_sends_none():
    echo = schedule()
    for number in range(3):
        echo.take(echo.next_send_s())
        answer(echo, number, number)
    assert echo.next_send_s() is None
    assert echo.finished(5.03)


def test_a_far_end_that_does_not_count_is_sent_none():
    assert len(send_all(schedule(stateful=False))) == 3


def test_a_slow_series_closes_at_its_own_pace():
    left = send_all(schedule(interval_s=0.3))
    assert left[3:] == pytest.approx([5.9, 6.2, 6.5])


def test_a_series_that_has_enough_is_closed_where_it_ended():
    echo = schedule(count=100)
    for number in range(3):
        echo.take(echo.next_send_s())
        answer(echo, number, number)
    echo.take(echo.next_send_s())
    echo.end()
    assert echo.next_send_s() is not None
    assert echo.take(5.1) == 4
    echo.end()
    answer(echo, 4, 3)
    series = echo.series(now_s=9.0, payload_bytes=44)
    assert len(series.outcome) == 4
    assert series.far_received == (True, True, True, False)
    assert echo.next_send_s() is None


def test_one_that_ended_before_it_began_sends_none():
    echo = schedule()
    echo.end()
    assert echo.next_send_s() is None
    assert echo.finished(5.0)


def test_closing_probes_are_in_no_column_and_tell_of_the_last():
    echo = schedule(count=4)
    for _ in range(6):
        echo.take(echo.next_send_s())
    # 1 was lost on the way there; 3 arrived, its answer was lost; 4, the first closing one, too.
    answer(echo, 0, 0)
    answer(echo, 2, 1)
    answer(echo, 5, 4)
    series = echo.series(now_s=9.0, payload_bytes=44)
    assert len(series.outcome) == len(series.sent_s) == len(series.far_received) == 4
    assert series.far_received == (True, False, True, True)
    assert series.arrival_order == (0, 2)
    assert series.far_count == (0, None, 1, None)
    assert series.far_arrivals == 3
    assert (series.far_copies, series.far_order) == (None, None)


def test_the_log_of_the_far_end_is_cut_to_the_series():
    echo = schedule(count=3)
    for _ in range(5):
        echo.take(echo.next_send_s())
    answer(echo, 0, 1)
    answer(echo, 4, 3)
    report = FarReport(received=4, order=((1, 1), (0, 1), (0, 1), (4, 1)))
    series = echo.series(now_s=9.0, payload_bytes=44, report=report, authenticated=True)
    assert series.far_received == (True, True, False)
    assert series.far_order == (1, 0)
    assert series.far_copies == (2, 1, 0)
    assert series.far_arrivals == 2
    assert series.authenticated


def test_a_part_of_a_series_keeps_its_far_columns_and_their_own_sum():
    echo = schedule(count=3)
    for number in range(3):
        echo.take(echo.next_send_s())
        answer(echo, number, number)
    report = FarReport(received=3, order=((0, 3),))
    whole = echo.series(now_s=9.0, payload_bytes=44, report=report)
    part = whole.between(5.005, 9.0)
    assert (part.far_count, part.far_copies, part.far_arrivals) == ((1, 2), (1, 1), 2)
    assert whole.between(5.0, 9.0).far_arrivals == 3


def test_a_part_of_a_series_has_no_sum_where_a_probe_is_open():
    echo = schedule(count=5)
    for _ in range(5):
        echo.take(echo.next_send_s())
    answer(echo, 0, 0)
    answer(echo, 4, 3)
    whole = echo.series(now_s=9.0, payload_bytes=44)
    # Of 1, 2 and 3 two arrived: the series knows that, a part of it does not.
    assert (whole.far_arrivals, whole.far_received) == (4, (True, None, None, None, True))
    assert whole.between(5.005, 9.0).far_arrivals is None
    assert whole.between(5.035, 9.0).far_arrivals == 1
