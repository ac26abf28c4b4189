"""Turns and queue: bounded clients and rates, first come first served, one visit not cut in two."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from agent.server.admission import (
    GRACE_S,
    MAX_WAITING,
    OVERDUE_TURNS,
    USUAL_TURN_S,
    Admission,
)
from agent.server.capacity import HEADROOM, SHARE, Budget
from agent.server.options import Patience
from agent.settings.model import Server

PATIENCE = Patience(hold_s=5.0, turn_s=120.0)
GIGABIT = 1e9


class Turns(Admission):
    """An admission that remembers which transfers run, as their threads would."""

    def __init__(self, *arguments):
        super().__init__(*arguments)
        self.running = {}

    def enter(self, client, now_s, **said):
        decision = super().enter(client, now_s, **said)
        if decision.admitted:
            self.running.setdefault(client, []).append(decision.moved)
        return decision

    def leave(self, client, now_s):
        super().leave(client, self.running[client].pop(), now_s)

    def moves(self, client, down=0, up=0):
        self.running[client][-1].down += down
        self.running[client][-1].up += up


def admission(clients=1, flows=4, budget=None):
    return Turns(clients, flows, PATIENCE, budget)


def port(capacity_bps=GIGABIT, largest_bps=None):
    """Return an admission that only the port limits."""
    return admission(50, 32, Budget(capacity_bps=capacity_bps, largest_bps=largest_bps))


def test_a_client_may_open_its_flows_and_no_more():
    turns = admission(flows=2)
    assert turns.enter("a", 0.0).admitted
    assert turns.enter("a", 0.0).admitted
    third = turns.enter("a", 0.0)
    assert (third.admitted, third.reason) == (False, "too-many-flows")
    assert turns.load(0.0) == (2, 1)


def test_a_full_server_says_how_long_to_wait_and_serves_after_that():
    turns = admission()
    turns.enter("a", 0.0)
    refused = turns.enter("b", 1.0)
    assert (refused.admitted, refused.reason) == (False, "busy")
    assert refused.wait_s >= 1.0
    turns.leave("a", 2.0)
    assert not turns.enter("b", 2.0 + PATIENCE.hold_s).admitted
    assert turns.enter("b", 2.1 + PATIENCE.hold_s).admitted


def test_a_turn_outlives_the_gap_between_two_transfers():
    turns = admission()
    turns.enter("a", 0.0)
    turns.leave("a", 10.0)
    assert (turns.load(12.0), turns.moving()) == ((0, 1), 0)
    assert not turns.enter("b", 12.0).admitted
    assert turns.enter("a", 14.0).admitted
    assert turns.moving() == 1


def test_who_asked_first_is_served_first_even_when_another_asks_at_the_right_moment():
    turns = admission()
    turns.enter("a", 0.0)
    first = turns.enter("b", 1.0)
    turns.leave("a", 2.0)
    free_s = 2.1 + PATIENCE.hold_s
    assert not turns.enter("c", free_s).admitted
    assert turns.enter("b", min(free_s + 1.0, 1.0 + first.wait_s)).admitted


def test_who_does_not_come_back_loses_the_place():
    turns = admission()
    turns.enter("a", 0.0)
    gone = turns.enter("b", 1.0)
    turns.leave("a", 2.0)
    assert turns.enter("c", 1.1 + gone.wait_s + GRACE_S).admitted


def test_a_client_past_its_turn_makes_room_between_transfers_when_others_wait():
    turns = admission()
    turns.enter("a", 0.0)
    late_s = PATIENCE.turn_s + 1.0
    turns.enter("b", late_s)
    turns.leave("a", late_s)
    assert turns.enter("b", late_s).admitted
    assert not turns.enter("a", late_s).admitted


def test_a_client_that_leaves_no_gap_ends_when_its_turn_is_long_overdue():
    turns = admission()
    turns.enter("a", 0.0)
    overdue_s = OVERDUE_TURNS * PATIENCE.turn_s + 1.0
    assert turns.enter("a", overdue_s).admitted
    turns.enter("b", overdue_s)
    refused = turns.enter("a", overdue_s)
    assert (refused.admitted, refused.reason) == (False, "busy")
    for _ in range(2):
        turns.leave("a", overdue_s + 1.0)
    assert turns.enter("b", overdue_s + 1.0).admitted


def test_the_card_tells_the_wait_without_queueing_anyone():
    turns = admission()
    turns.enter("a", 0.0)
    assert turns.wait_s("a", 0.0) == 0.0
    assert turns.wait_s("b", 0.0) >= 1.0
    turns.leave("a", 1.0)
    assert turns.enter("c", 1.1 + PATIENCE.hold_s).admitted


def test_without_spare_processors_only_the_first_client_is_served():
    turns = admission(clients=5)
    assert turns.enter("a", 0.0, spare=False).admitted
    assert not turns.enter("b", 0.0, spare=False).admitted
    assert turns.enter("b", 0.0, spare=True).admitted


def test_the_queue_is_bounded():
    turns = admission()
    turns.enter("a", 0.0)
    for number in range(MAX_WAITING + 100):
        turns.enter(f"w{number}", 0.0)
    assert len(turns._queue) == MAX_WAITING


def test_a_client_that_does_not_say_its_rate_has_the_port_to_itself():
    turns = port()
    assert turns.enter("a", 0.0).admitted
    assert turns.enter("a", 0.0).admitted
    refused = turns.enter("b", 0.0, rate_bps=1e6)
    assert (refused.reason, refused.wait_s >= 1.0) == ("busy", True)
    assert not port(largest_bps=GIGABIT).enter("a", 0.0).wait_s


@pytest.mark.parametrize("told", [{"rate_bps": 100e6}, {}])
def test_clients_share_the_port_while_all_their_lines_together_leave_it_idle_enough(told):
    # 0.85 of 1 Gbit/s holds seven lines of 100 Mbit/s with a fifth to spare each.
    turns = port(largest_bps=None if told else 100e6)
    served = [turns.enter(f"c{number}", 0.0, **told).admitted for number in range(9)]
    assert served == [True] * 7 + [False] * 2
    assert turns.promised_bps() == pytest.approx(840e6)


def test_a_line_as_fast_as_the_port_is_served_alone():
    turns = port()
    assert turns.enter("a", 0.0, rate_bps=5 * GIGABIT).admitted
    assert turns.promised_bps() == pytest.approx(SHARE * GIGABIT)


def test_a_slow_line_does_not_overtake_a_fast_one_that_waits():
    turns = port()
    for name in "ab":
        assert turns.enter(name, 0.0, rate_bps=100e6).admitted
    first = turns.enter("fast", 0.0, rate_bps=GIGABIT)
    assert not turns.enter("slow", 0.0, rate_bps=1e6).admitted
    for name in "ab":
        turns.leave(name, 1.0)
    free_s = 1.1 + PATIENCE.hold_s
    assert free_s < first.wait_s + GRACE_S
    assert not turns.enter("slow", free_s, rate_bps=1e6).admitted
    assert turns.enter("fast", free_s, rate_bps=GIGABIT).admitted


def test_a_slow_line_takes_what_all_ahead_of_it_leave():
    turns = port()
    turns.enter("a", 0.0)
    turns.enter("b", 0.0, rate_bps=100e6)
    turns.leave("a", 1.0)
    free_s = 1.1 + PATIENCE.hold_s
    assert turns.enter("c", free_s, rate_bps=100e6).admitted
    assert turns.enter("b", free_s, rate_bps=100e6).admitted


def test_who_was_told_to_come_much_later_is_not_kept_a_place_until_then():
    turns = port()
    turns.enter("a", 0.0)
    soon, later = (turns.enter(name, 0.0).wait_s for name in ("soon", "later"))
    assert soon <= USUAL_TURN_S < later
    turns.leave("a", 1.0)
    assert turns.enter("soon", 1.1 + PATIENCE.hold_s).admitted
    turns.leave("soon", 2.0 + PATIENCE.hold_s)
    free_s = 2.1 + 2 * PATIENCE.hold_s
    assert later - free_s > USUAL_TURN_S + GRACE_S
    assert turns.enter("new", free_s).admitted
    turns.leave("new", later - PATIENCE.hold_s - 0.1)
    assert not turns.enter("newer", later - 1.0).admitted
    assert turns.enter("later", later + 0.1).admitted


def test_who_uses_more_than_it_said_is_counted_with_what_it_uses():
    turns = port()
    turns.enter("a", 0.0, rate_bps=10e6)
    turns.observe(0.0)
    turns.moves("a", up=25_000_000)
    turns.moves("a", down=75_000_000)
    seen = turns.observe(1.0)
    assert (seen.down_bps, seen.up_bps) == (600e6, 200e6)
    assert turns.promised_bps() >= 600e6
    assert not turns.enter("b", 1.0, rate_bps=300e6).admitted
    turns.leave("a", 1.0)
    assert turns.observe(2.0).larger_bps == 0.0
    assert turns.promised_bps() >= 600e6


def test_other_traffic_on_the_port_takes_from_what_is_promised():
    turns = port()
    turns.make_room(600e6)
    assert not turns.enter("a", 0.0, rate_bps=400e6).admitted
    assert turns.enter("b", 0.0, rate_bps=200e6).wait_s >= 1.0
    turns.make_room(100e6)
    assert turns.enter("a", 1.0, rate_bps=400e6).admitted


def test_a_wait_is_reckoned_in_turns_of_those_before():
    turns = port()
    turns.enter("served", 0.0)
    waits = [turns.enter(f"w{number}", 0.0).wait_s for number in range(4)]
    assert waits == sorted(set(waits))


STEPS = st.lists(st.tuples(st.sampled_from("abcd"), st.booleans(), st.floats(0, 3)), max_size=60)
RATES = {"a": None, "b": 1e8, "c": 4e8, "d": 5e9}


@given(STEPS, st.integers(1, 3), st.integers(1, 3), st.none() | st.just(GIGABIT))
def test_never_more_clients_flows_or_rate_than_there_is(steps, clients, flows, capacity_bps):
    turns = admission(clients, flows, Budget(capacity_bps=capacity_bps))
    now_s, running = 0.0, dict.fromkeys("abcd", 0)
    for client, enters, after_s in steps:
        now_s += after_s
        if enters:
            decision = turns.enter(client, now_s, rate_bps=RATES[client])
            running[client] += decision.admitted
            assert decision.admitted == (decision.wait_s == 0.0)
        elif running[client]:
            turns.leave(client, now_s)
            running[client] -= 1
        assert max(running.values()) <= flows
        assert sum(map(bool, running.values())) <= clients
        assert turns.load(now_s)[0] == sum(running.values())
        assert turns.promised_bps() <= SHARE * GIGABIT + 1


def test_a_request_that_does_not_repeat_the_rate_changes_nothing():
    turns = port()
    turns.enter("a", 0.0, rate_bps=100e6)
    turns.enter("a", 0.0)
    assert turns.promised_bps() == pytest.approx(HEADROOM * 100e6)
    turns.enter("a", 0.0, rate_bps=200e6)
    assert turns.promised_bps() == pytest.approx(HEADROOM * 200e6)


@given(st.lists(st.sampled_from((None, 5e7, 2e8, 2e9)), min_size=1, max_size=12), st.data())
def test_every_client_that_keeps_asking_is_served_once_in_the_order_it_came(rates, data):
    turns, now_s, order = port(), 0.0, []
    waiting = dict.fromkeys(range(len(rates)), 0.0)
    ends = {}
    while waiting:
        now_s = min([*waiting.values(), *ends.values()])
        for number in [n for n, end_s in ends.items() if end_s <= now_s]:
            turns.leave(number, now_s)
            del ends[number]
        for number in [n for n, ask_s in waiting.items() if ask_s <= now_s]:
            decision = turns.enter(number, now_s, rate_bps=rates[number])
            if decision.admitted:
                order.append(number)
                ends[number] = now_s + data.draw(st.floats(1, 30))
                del waiting[number]
            else:
                waiting[number] = now_s + decision.wait_s
            assert turns.promised_bps() <= SHARE * GIGABIT + 1
        assert now_s < 100.0 * len(rates)
    assert sorted(order) == list(range(len(rates)))


VISIT_S = (4.0, 1.0, 4.0)
"""A visit at the server: down, the gap, up; what both directions of a steady line take."""


@given(st.lists(st.floats(0, 5), min_size=50, max_size=50), st.floats(0, GRACE_S - 1))
def test_fifty_visits_at_once_all_get_their_turn_within_a_visits_patience(arrivals, dawdling_s):
    turns = admission(clients=10)
    ask_s = dict(enumerate(sorted(arrivals)))
    came_s, waited_s, order, ends = dict(ask_s), {}, [], {}
    while ask_s or ends:
        now_s = min([*ask_s.values(), *ends.values()])
        for number in [n for n, end_s in ends.items() if end_s <= now_s]:
            turns.leave(number, now_s)
            del ends[number]
        for number in [n for n, at_s in ask_s.items() if at_s <= now_s]:
            decision = turns.enter(number, now_s)
            if decision.admitted:
                order.append(number)
                waited_s[number] = now_s - came_s[number]
                ends[number] = now_s + sum(VISIT_S)
                del ask_s[number]
            else:
                ask_s[number] = now_s + decision.wait_s + dawdling_s
    assert len(order) == 50
    assert max(waited_s.values()) <= Server().patience_s
    # No one is served after somebody who came a whole round later.
    assert all(order.index(n) < order.index(m) for n in range(50) for m in range(n + 20, 50))
