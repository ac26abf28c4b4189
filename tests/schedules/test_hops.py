from hypothesis import given
from hypothesis import strategies as st

from agent.schedules.hops import PACE_S, HopSchedule

# ICMP numbers: RFC 792 (11/0 time exceeded, 3/3 port unreachable), RFC 4443 §3.1, §3.3.
TARGET = "198.51.100.10"


def schedule(**kwargs):
    return HopSchedule(
        **{"max_distance": 8, "attempts": 3, "waiting_s": 1.0, "family": 4, "start_s": 0.0} | kwargs
    )


def walk_all(hops, now_s=0.0):
    taken = []
    while (due_s := hops.next_send_s()) is not None:
        now_s = max(now_s, due_s)
        taken.append(hops.take(now_s))
    return taken, now_s


def router(distance):
    return f"203.0.113.{distance}"


def test_all_distances_leave_together_in_rounds_with_a_number_of_their_own():
    hops = schedule(max_distance=4, attempts=2)
    taken, last_s = walk_all(hops)
    assert [p.distance for p in taken] == [1, 2, 3, 4, 1, 2, 3, 4]
    assert [p.number for p in taken] == list(range(8))
    walk = hops.walk(now_s=last_s + 2.0, target=TARGET, protocol="udp")
    assert walk.attempt == (0, 0, 0, 0, 1, 1, 1, 1)
    gaps = [b - a for a, b in zip(walk.sent_s, walk.sent_s[1:], strict=False)]
    assert min(gaps) >= PACE_S * 0.999


def test_nothing_beyond_the_target_is_tried_once_it_answered():
    hops = schedule()
    first = [hops.take(hops.next_send_s()) for _ in range(5)]
    hops.on_answer(first[3].number, 0.02, TARGET, 3, 3)
    rest, _ = walk_all(hops)
    assert {p.distance for p in rest} == {1, 2, 3, 4}


def test_a_target_that_answered_often_enough_is_left_alone():
    # RFC 1812 §4.3.2.8: errors are limited, so more probes would only look like loss.
    hops = schedule()
    first = [hops.take(hops.next_send_s()) for _ in range(8)]
    for probe in first[3:]:
        hops.on_answer(probe.number, 0.02, TARGET, 3, 3)
    rest, _ = walk_all(hops)
    assert [p.distance for p in rest] == [1, 2, 3, 1, 2, 3]


def test_the_walk_ends_early_when_everything_up_to_the_target_is_in():
    hops = schedule(attempts=1)
    probes, now_s = walk_all(hops)
    for probe in probes[:3]:
        hops.on_answer(probe.number, now_s, router(probe.distance), 11, 0)
    assert not hops.finished(now_s)
    hops.on_answer(probes[3].number, now_s, TARGET, 3, 3)
    assert hops.finished(now_s)


def test_silent_hops_are_waited_for_and_kept_as_attempts():
    hops = schedule(attempts=1, max_distance=3)
    probes, now_s = walk_all(hops)
    hops.on_answer(probes[2].number, now_s, TARGET, 3, 3)
    assert not hops.finished(now_s + 0.9)
    assert hops.finished(now_s + 1.0)
    walk = hops.walk(now_s=now_s + 1.0, target=TARGET, protocol="udp")
    assert walk.distance == (1, 2, 3)
    assert walk.answered_by == (None, None, TARGET)
    assert walk.rtt_ms[:2] == (None, None)


def test_a_late_answer_is_credited_to_its_own_attempt():
    hops = schedule(attempts=2, max_distance=2)
    probes, _ = walk_all(hops)
    hops.on_answer(probes[0].number, 1.5, router(1), 11, 0)
    hops.on_answer(probes[0].number, 1.6, router(9), 11, 0)
    walk = hops.walk(now_s=3.0, target=TARGET, protocol="udp")
    assert walk.answered_by == (router(1), None, None, None)
    assert walk.rtt_ms[0] is not None
    assert round(walk.rtt_ms[0]) == 1500


def test_a_router_that_refuses_ends_the_walk():
    hops = schedule()
    first = [hops.take(hops.next_send_s()) for _ in range(8)]
    hops.on_answer(first[1].number, 0.02, router(2), 3, 13)
    rest, _ = walk_all(hops)
    assert {p.distance for p in rest} == {1, 2}


def test_icmpv6_has_its_own_numbers():
    hops = schedule(family=6, attempts=2)
    first = [hops.take(hops.next_send_s()) for _ in range(8)]
    hops.on_answer(first[0].number, 0.02, "2001:db8::1", 3, 0)
    hops.on_answer(first[2].number, 0.02, "2001:db8::9", 1, 4)
    rest, _ = walk_all(hops)
    assert {p.distance for p in rest} == {1, 2, 3}


def test_a_service_that_answers_is_the_target():
    hops = schedule(attempts=1)
    probes, now_s = walk_all(hops)
    hops.on_answer(probes[4].number, now_s, TARGET)
    walk = hops.walk(now_s=now_s, target=TARGET, protocol="udp")
    assert (walk.distance, walk.icmp_type, walk.answered_by) == ((5,), (None,), (TARGET,))


def test_what_never_went_out_and_what_may_still_come_is_no_silence():
    hops = schedule(attempts=1, max_distance=3)
    probes, now_s = walk_all(hops)
    hops.on_unsent(probes[0].number)
    walk = hops.walk(now_s=now_s + 0.9985, target=TARGET, protocol="udp")
    assert walk.distance == (2,)


def test_answers_that_cannot_be_placed_are_counted_by_address():
    hops = schedule()
    for _ in range(2):
        hops.on_unplaced(router(5))
    hops.on_unplaced(router(4))
    walk = hops.walk(now_s=0.0, target=TARGET, protocol="udp")
    assert walk.unplaced == ((router(4), 1), (router(5), 2))


@given(
    st.integers(1, 30),
    st.integers(1, 5),
    st.lists(st.tuples(st.integers(0, 149), st.sampled_from([3, 11])), max_size=60),
)
def test_no_walk_sends_more_than_its_plan_and_every_walk_ends(distances, attempts, answers):
    hops = schedule(max_distance=distances, attempts=attempts)
    sent, now_s = 0, 0.0
    while (due_s := hops.next_send_s()) is not None:
        now_s = max(now_s, due_s)
        hops.take(now_s)
        sent += 1
        for number, icmp_type in answers:
            if number == sent - 1:
                hops.on_answer(number, now_s, router(1), icmp_type, 0)
    assert sent <= distances * attempts
    assert hops.finished(now_s + 1.0)
    walk = hops.walk(now_s=now_s + 1.0, target=TARGET, protocol="udp")
    assert len(walk.distance) == len(walk.rtt_ms) == len(walk.answered_by) == sent
