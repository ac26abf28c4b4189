"""Reflector sessions: proven address, rate, count, time, and the order of arrival."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from agent.codec.card import MAX_RUNS, parse_grant, parse_report
from agent.codec.document import write_document
from agent.server import sessions
from agent.server.options import ReflectorLimits
from agent.server.sessions import QUIET_S, REPORT_KEPT_S, SessionBook

HERE = "203.0.113.7"


def book(**limits):
    return SessionBook(ReflectorLimits(**limits), port=862)


def opened(sessions_book, address=HERE, now_s=0.0):
    return sessions_book.open(address, address, now_s)


def arrive(held, address, ssid, sequence, now_s):
    """Let one packet that needs no key arrive."""
    session = held.find(address, ssid)
    return None if session is None else held.arrive(session, sequence, now_s)


def test_a_grant_names_port_ssid_and_bounds_and_reads_back():
    grant = opened(book(seconds=9, packets_per_s=7, max_packets=5))
    assert (grant.port, grant.seconds, grant.packets_per_s, grant.max_packets) == (862, 9, 7, 5)
    assert 1 <= grant.ssid <= 0xFFFF
    assert parse_grant(write_document(grant.to_document())) == grant


def test_only_the_pair_of_address_and_ssid_is_answered():
    held = book()
    grant = opened(held)
    other = grant.ssid % 0xFFFF + 1
    assert arrive(held, HERE, other, 0, 0.0) is None
    assert arrive(held, "198.51.100.9", grant.ssid, 0, 0.0) is None
    assert arrive(held, HERE, 0, 0, 0.0) is None
    assert arrive(held, HERE, grant.ssid, 0, 0.0) == 0
    assert held.tally(grant.session, 0.0).received == 1


def test_what_comes_from_elsewhere_is_counted_apart_and_never_answered(monkeypatch):
    monkeypatch.setattr(sessions, "MAX_PACKETS", 4)
    held = book()
    grant = opened(held)
    for number in range(9):
        assert arrive(held, "198.51.100.9", grant.ssid, number, 0.0) is None
    report = held.tally(grant.session, 0.0).report()
    assert (report.received, report.elsewhere, report.runs) == (0, 4, ())
    assert parse_report(write_document(report.to_document())) == report


def test_no_two_sessions_share_an_ssid_so_that_elsewhere_has_one_owner(monkeypatch):
    drawn = iter([6, 6, 6, 7])
    monkeypatch.setattr(sessions.secrets, "randbelow", lambda _limit: next(drawn))
    held = book()
    assert [opened(held, "192.0.2.1").ssid, opened(held, "192.0.2.2").ssid] == [7, 8]


def test_the_reflectors_own_number_counts_what_it_answered():
    held = book()
    ssid = opened(held).ssid
    assert [arrive(held, HERE, ssid, number, 0.0) for number in (5, 9, 9, 2)] == [0, 1, 2, 3]


def test_past_the_rate_there_is_silence_and_the_packet_still_counts_as_arrived():
    held = book(packets_per_s=10)
    grant = opened(held)
    answers = [arrive(held, HERE, grant.ssid, number, 0.0) for number in range(15)]
    assert answers == [*range(10), *[None] * 5]
    assert arrive(held, HERE, grant.ssid, 15, 0.1) == 10
    assert arrive(held, HERE, grant.ssid, 16, 0.1) is None
    report = held.tally(grant.session, 0.1).report()
    assert (report.received, report.reflected, report.refused) == (17, 11, 6)
    assert list(report.arrivals()) == list(range(17))


@pytest.mark.parametrize(
    ("limits", "now_s"), [({"max_packets": 3}, 0.0), ({"seconds": 5.0}, 5.001)]
)
def test_past_the_count_or_the_time_there_is_silence(limits, now_s):
    held = book(**limits)
    ssid = opened(held).ssid
    first = [arrive(held, HERE, ssid, number, 0.0) for number in range(3)]
    assert first == [0, 1, 2]
    assert arrive(held, HERE, ssid, 3, now_s) is None


def test_a_closed_session_is_silent_and_gone():
    held = book()
    grant = opened(held)
    arrive(held, HERE, grant.ssid, 0, 0.0)
    assert held.close(grant.session, 1.0).received == 1
    assert arrive(held, HERE, grant.ssid, 1, 1.0) is None
    assert held.tally(grant.session, 1.0) is None
    assert held.close(grant.session, 1.0) is None


def test_a_report_outlives_its_session_for_a_while():
    held = book(seconds=5.0)
    grant = opened(held)
    assert held.tally(grant.session, 5.0 + REPORT_KEPT_S) is not None
    assert held.tally(grant.session, 5.1 + REPORT_KEPT_S) is None


def test_a_client_loses_a_quiet_session_before_it_is_refused_a_new_one():
    held = book(per_client=2)
    quiet, busy = opened(held), opened(held)
    arrive(held, HERE, busy.ssid, 0, QUIET_S)
    assert opened(held, now_s=QUIET_S - 0.1) is None
    assert opened(held, now_s=QUIET_S) is not None
    assert held.tally(quiet.session, QUIET_S) is None
    assert held.tally(busy.session, QUIET_S) is not None


def test_sessions_are_bounded_in_all():
    held = book(sessions=3)
    grants = [opened(held, f"192.0.2.{number}") for number in range(5)]
    assert [grant is not None for grant in grants] == [True, True, True, False, False]


def test_an_order_too_long_to_keep_is_cut_and_says_so():
    held = book(packets_per_s=10**6, max_packets=10**6)
    grant = opened(held)
    for number in range(0, 2 * (MAX_RUNS + 5), 2):
        arrive(held, HERE, grant.ssid, number, 0.0)
    report = held.tally(grant.session, 0.0).report()
    assert (len(report.runs), report.cut, report.received) == (MAX_RUNS, True, MAX_RUNS + 5)
    assert parse_report(write_document(report.to_document())) == report


@given(st.lists(st.integers(0, 2**32 - 1) | st.integers(0, 6), max_size=80))
def test_any_order_of_arrival_reads_back_as_it_came(numbers):
    held = book()
    grant = opened(held)
    for number in numbers:
        arrive(held, HERE, grant.ssid, number, 0.0)
    report = parse_report(write_document(held.tally(grant.session, 0.0).report().to_document()))
    assert list(report.arrivals()) == numbers
