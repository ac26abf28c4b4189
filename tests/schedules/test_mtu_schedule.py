"""The search for a path MTU, played against paths whose truth is known."""

import random
from dataclasses import dataclass

import pytest
from hypothesis import Phase, given, settings
from hypothesis import strategies as st

from agent.schedules.mtu import SHARES, TRIES, USUAL_SIZES, MtuSchedule, between

GATEWAY = "198.51.100.1"
LEAST = {4: 576, 6: 1280}
LONGEST_S = 2.5


@dataclass
class Line:
    """What a line carries, whether its router says so, and what it loses of all packets."""

    mtu: int
    family: int = 4
    silent: bool = False
    port: int = 1500
    rtt_s: float = 0.02
    loss: float = 0.0
    names: int | None = None
    quotes: bool = True
    taken_to: int = 1
    seed: int = 0


def play(line):
    """Run a search over a line; return its observation and how long it took."""
    ends_s = 10.0 + LONGEST_S
    schedule = MtuSchedule(family=line.family, start_s=10.0, until_s=ends_s)
    chance = random.Random(line.seed)
    due, now_s = [], 10.0
    while not schedule.finished(now_s):
        wanted_s = schedule.next_send_s()
        if wanted_s is not None and wanted_s <= now_s:
            due += answers(schedule, line, schedule.take(now_s), now_s, chance)
            continue
        wakes_s = schedule.patience_ends_s() if wanted_s is None else wanted_s
        now_s = max(now_s + 1e-4, min([wakes_s, ends_s, *(at_s for at_s, _ in due)]))
        for one in [one for one in due if one[0] <= now_s]:
            due.remove(one)
            one[1](now_s)
    found = schedule.search(now_s=now_s, target="203.0.113.9", protocol="stamp", header_bytes=28)
    return found, now_s - 10.0


def answers(schedule, line, probe, now_s, chance):
    """Return what comes of a packet: (when, the call that tells the schedule)."""
    number = probe.number
    if probe.size > line.port:
        schedule.on_held_back(number)
        return []
    if chance.random() < line.loss:
        return []
    if probe.distance is not None and probe.distance <= line.taken_to:
        word = f"198.51.100.{probe.distance}"
        return [(now_s + line.rtt_s, lambda at_s: schedule.on_passed(number, at_s, word))]
    if probe.size > line.mtu:
        if line.silent:
            return []
        named = line.mtu if line.names is None else line.names
        quoted = number if line.quotes else None
        return [(now_s + line.rtt_s / 2, lambda _: schedule.on_refusal(quoted, GATEWAY, named))]
    return [(now_s + line.rtt_s, lambda at_s: schedule.on_answer(number, at_s))]


def largest(found):
    """Return the largest size that came back."""
    pairs = zip(found.size_bytes, found.outcome, strict=True)
    return max((size for size, outcome in pairs if outcome == "answered"), default=None)


@pytest.mark.parametrize("family", [4, 6])
@pytest.mark.parametrize("silent", [False, True])
@pytest.mark.parametrize("mtu", [1500, 1499, 1492, 1491, 1480, 1433, 1400, 1281, 1280])
def test_the_value_is_the_truth(mtu, silent, family):
    found, took_s = play(Line(mtu, family=family, silent=silent))
    assert largest(found) == mtu
    assert took_s <= LONGEST_S


@given(
    mtu=st.integers(1280, 1500),
    silent=st.booleans(),
    rtt_s=st.floats(0.001, 0.05),
    seed=st.integers(0, 10_000),
)
@settings(max_examples=30, deadline=None, phases=(Phase.generate,))
def test_two_in_a_hundred_lost_give_no_wrong_value(mtu, silent, rtt_s, seed):
    found, took_s = play(Line(mtu, silent=silent, rtt_s=rtt_s, loss=0.02, seed=seed))
    assert largest(found) == mtu
    assert took_s <= LONGEST_S


def test_a_line_without_limit_needs_little_more_than_one_round_trip():
    found, took_s = play(Line(1500))
    assert took_s < 0.03
    assert len(found.size_bytes) <= 3


def test_what_is_under_way_at_the_end_is_not_called_lost():
    found, _ = play(Line(1500))
    assert set(found.outcome) <= {"answered", "open"}


def test_a_router_that_names_its_size_is_believed_once_that_size_has_passed():
    found, took_s = play(Line(1437))
    assert largest(found) == 1437
    assert took_s < 0.2
    assert max(s for s in found.size_bytes if s < 1440) == 1437


@pytest.mark.parametrize("names", [0, 40, 1500, 1900])
def test_a_size_that_cannot_be_meant_is_discarded(names):
    """RFC 8899 §4.6.2: not below what every path carries, not as large as the packet itself."""
    found, _ = play(Line(1444, names=names))
    assert largest(found) == 1444
    assert set(found.named_bytes) == {None}


def test_a_router_that_names_too_little_does_not_lower_the_value():
    found, _ = play(Line(1460, names=1300))
    assert largest(found) == 1460


def test_a_refusal_without_the_packet_counts_for_those_larger_than_what_it_names():
    found, took_s = play(Line(1437, quotes=False))
    assert largest(found) == 1437
    assert took_s < 0.3
    refused = {s for s, o in zip(found.size_bytes, found.outcome, strict=True) if o == "refused"}
    assert refused
    assert min(refused) > 1437


def test_the_own_port_is_told_from_the_line():
    found, _ = play(Line(1500, port=1492))
    kinds = dict(zip(found.size_bytes, found.outcome, strict=True))
    assert kinds[1493] == "held-back"
    assert largest(found) == 1492


def test_vanishing_packets_are_followed_to_the_last_router_that_takes_them():
    found, _ = play(Line(1492, silent=True, taken_to=4))
    rows = zip(found.distance, found.outcome, found.answered_by, strict=True)
    assert {d: a for d, o, a in rows if o == "passed"} == {
        d: f"198.51.100.{d}" for d in (1, 2, 3, 4)
    }


def test_no_size_is_sent_more_often_than_allowed_and_none_to_a_router_where_all_is_told():
    found, _ = play(Line(1480, silent=True))
    whole = [s for s, d in zip(found.size_bytes, found.distance, strict=True) if d is None]
    assert max(map(whole.count, whole)) == TRIES
    told, _ = play(Line(1480))
    assert set(told.distance) == {None}


def test_a_far_end_that_never_answers_ends_the_search():
    found, took_s = play(Line(0, silent=True, taken_to=0))
    assert largest(found) is None
    assert took_s <= LONGEST_S


@given(low=st.integers(68, 1499), gap=st.integers(2, 1000))
def test_shares_lie_strictly_between(low, gap):
    shares = between(low, low + gap)
    assert all(low < share < low + gap for share in shares)
    assert len(shares) == min(SHARES, gap - 1)


@pytest.mark.parametrize("family", [4, 6])
def test_no_size_lies_below_what_a_host_must_take(family):
    """RFC 1122 §3.3.2: 576 octets; RFC 8200 §5: 1280."""
    assert min(USUAL_SIZES[family]) == LEAST[family]
