"""Turns and queue: bounded clients, first come first served, one visit not cut in two."""

from hypothesis import given
from hypothesis import strategies as st

from agent.server.admission import GRACE_S, MAX_WAITING, Admission
from agent.server.options import Patience

PATIENCE = Patience(hold_s=5.0, turn_s=120.0)


def admission(clients=1, flows=4):
    return Admission(clients, flows, PATIENCE)


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
    assert not turns.enter("b", 12.0).admitted
    assert turns.enter("a", 14.0).admitted


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


def test_the_card_tells_the_wait_without_queueing_anyone():
    turns = admission()
    turns.enter("a", 0.0)
    assert turns.wait_s("a", 0.0) == 0.0
    assert turns.wait_s("b", 0.0) >= 1.0
    turns.leave("a", 1.0)
    assert turns.enter("c", 1.1 + PATIENCE.hold_s).admitted


def test_without_spare_capacity_only_the_first_client_is_served():
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


STEPS = st.lists(st.tuples(st.sampled_from("abcd"), st.booleans(), st.floats(0, 3)), max_size=60)


@given(STEPS, st.integers(1, 3), st.integers(1, 3))
def test_never_more_clients_or_flows_than_allowed(steps, clients, flows):
    turns, now_s, running = admission(clients, flows), 0.0, dict.fromkeys("abcd", 0)
    for client, enters, after_s in steps:
        now_s += after_s
        if enters:
            decision = turns.enter(client, now_s)
            running[client] += decision.admitted
            assert decision.admitted == (decision.wait_s == 0.0)
        elif running[client]:
            turns.leave(client, now_s)
            running[client] -= 1
        assert max(running.values()) <= flows
        assert sum(map(bool, running.values())) <= clients
        assert turns.load(now_s)[0] == sum(running.values())
