from hypothesis import given
from hypothesis import strategies as st

from agent.schedules.hop_attempts import MOST_FURTHER, MOST_UNPLACED, HopAnswer
from agent.schedules.hops import LONGER_BY, PACE_S, HopSchedule
from agent.schedules.lone_probes import BUDGET_S, LONGEST_S

# ICMP numbers: RFC 792 (11/0 time exceeded, 3/3 port unreachable), RFC 4443 §3.1, §3.3.
TARGET = "198.51.100.10"


def schedule(**kwargs):
    return HopSchedule(
        **{"max_distance": 8, "attempts": 3, "waiting_s": 1.0, "family": 4, "start_s": 0.0} | kwargs
    )


def answer(hops, probe, at_s, source, *icmp):
    number = getattr(probe, "number", probe)
    icmp_type, icmp_code = icmp or (None, None)
    hops.on_answer(
        number,
        HopAnswer(at_s=at_s, source=source, icmp_type=icmp_type, icmp_code=icmp_code),
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
    answer(hops, first[3], 0.02, TARGET, 3, 3)
    rest, _ = walk_all(hops)
    assert {p.distance for p in rest} == {1, 2, 3, 4}


def test_a_target_that_answered_often_enough_is_left_alone():
    # RFC 1812 §4.3.2.8: errors are limited, so more probes would only look like loss.
    hops = schedule()
    first = [hops.take(hops.next_send_s()) for _ in range(8)]
    for probe in first[3:]:
        answer(hops, probe, 0.02, TARGET, 3, 3)
    rest, _ = walk_all(hops)
    assert [p.distance for p in rest] == [1, 2, 3, 1, 2, 3]


def test_the_walk_ends_early_when_everything_up_to_the_target_is_in():
    hops = schedule(attempts=1)
    probes, now_s = walk_all(hops)
    for probe in probes[:3]:
        answer(hops, probe, now_s, router(probe.distance), 11, 0)
    assert not hops.finished(now_s)
    answer(hops, probes[3], now_s, TARGET, 3, 3)
    assert hops.finished(now_s)


def test_silent_hops_are_waited_for_and_kept_as_attempts():
    hops = schedule(attempts=1, max_distance=3)
    probes, now_s = walk_all(hops)
    answer(hops, probes[2], now_s, TARGET, 3, 3)
    assert not hops.finished(now_s + 0.9)
    assert hops.finished(now_s + 1.0)
    walk = hops.walk(now_s=now_s + 1.0, target=TARGET, protocol="udp")
    assert walk.distance == (1, 2, 3)
    assert walk.answered_by == (None, None, TARGET)
    assert walk.rtt_ms[:2] == (None, None)


def test_a_late_answer_is_credited_to_its_own_attempt():
    hops = schedule(attempts=2, max_distance=2)
    probes, _ = walk_all(hops)
    answer(hops, probes[0], 1.5, router(1), 11, 0)
    answer(hops, probes[0], 1.6, router(9), 11, 0)
    walk = hops.walk(now_s=3.0, target=TARGET, protocol="udp")
    assert walk.answered_by == (router(1), None, None, None)
    assert walk.further == ((0, router(9)),)
    assert walk.rtt_ms[0] is not None
    assert round(walk.rtt_ms[0]) == 1500


def test_a_router_that_refuses_ends_the_walk():
    hops = schedule()
    first = [hops.take(hops.next_send_s()) for _ in range(8)]
    answer(hops, first[1], 0.02, router(2), 3, 13)
    rest, _ = walk_all(hops)
    assert {p.distance for p in rest} == {1, 2}


def test_icmpv6_has_its_own_numbers():
    hops = schedule(family=6, attempts=2)
    first = [hops.take(hops.next_send_s()) for _ in range(8)]
    answer(hops, first[0], 0.02, "2001:db8::1", 3, 0)
    answer(hops, first[2], 0.02, "2001:db8::9", 1, 4)
    rest, _ = walk_all(hops)
    assert {p.distance for p in rest} == {1, 2, 3}


def test_a_service_that_answers_is_the_target():
    hops = schedule(attempts=1)
    probes, now_s = walk_all(hops)
    answer(hops, probes[4], now_s, TARGET)
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
        hops.on_foreign(router(5))
    hops.on_short_quote(HopAnswer(at_s=0.0, source=router(4), icmp_type=11, icmp_code=0))
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
                answer(hops, number, now_s, router(1), icmp_type, 0)
    assert sent <= distances * attempts
    assert hops.finished(now_s + 1.0)
    walk = hops.walk(now_s=now_s + 1.0, target=TARGET, protocol="udp")
    assert len(walk.distance) == len(walk.rtt_ms) == len(walk.answered_by) == sent


def test_a_second_flow_follows_the_first_and_goes_no_further_than_it_must():
    hops = schedule(max_distance=30, flows=2)
    first = [hops.take(hops.next_send_s()) for _ in range(20)]
    for probe in first[5:]:
        answer(hops, probe, 0.05, TARGET, 3, 3)
    rest, _ = walk_all(hops)
    assert [p.distance for p in rest if p.flow == 0] == [*range(1, 6)] * 2
    assert [p.distance for p in rest if p.flow == 1] == [*range(1, 7 + LONGER_BY)] * 2
    assert [p.flow for p in rest] == sorted(p.flow for p in rest)


def test_a_second_flow_has_an_end_of_its_own():
    # Two ways of different length: 4 hops for one flow, 5 for the other.
    hops = schedule(max_distance=10, attempts=2, flows=2)
    sent = []
    while (due_s := hops.next_send_s()) is not None:
        probe = hops.take(due_s)
        sent.append(probe)
        length = 5 if probe.flow else 4
        if probe.distance >= length:
            answer(hops, probe, due_s, TARGET, 3, 3)
    reached = {flow: max(p.distance for p in sent if p.flow == flow) for flow in (0, 1)}
    assert reached == {0: 4, 1: 5}


def test_attempts_are_counted_within_their_flow_and_distance():
    hops = schedule(max_distance=2, attempts=3, flows=2)
    _, now_s = walk_all(hops)
    walk = hops.walk(now_s=now_s + 2, target=TARGET, protocol="udp")
    assert walk.flow == (0,) * 6 + (1,) * 4
    assert walk.attempt == (0, 0, 1, 1, 2, 2, 0, 0, 1, 1)


class ShortQuotes:
    """Plays a row of routers that quote the UDP header only, to a schedule on its own clock."""

    def __init__(self, hops, route, delay_s=0.01, late=()):
        self.hops, self.route, self.delay_s, self.late = hops, route, delay_s, dict(late)
        self.now_s, self.due = 0.0, []

    def run(self):
        while not self.hops.finished(self.now_s):
            next_s = self.hops.next_send_s()
            wake_s = self.hops.patience_ends_s() if next_s is None else next_s
            if self.due and self.due[0][0] <= max(wake_s, self.now_s):
                at_s, source, icmp = self.due.pop(0)
                self.now_s = max(self.now_s, at_s)
                self.hops.on_short_quote(
                    HopAnswer(at_s=at_s, source=source, icmp_type=icmp[0], icmp_code=icmp[1])
                )
                continue
            self.now_s = max(self.now_s, wake_s)
            if next_s is not None:
                self.send()
        return self.hops.walk(now_s=self.now_s, target=TARGET, protocol="udp")

    def send(self):
        probe = self.hops.take(self.now_s)
        source = self.route(min(probe.distance, 30))
        if source is None:
            return
        icmp = (3, 3) if source == TARGET else (11, 0)
        at_s = self.now_s + self.delay_s + self.late.get(source, 0.0)
        self.due = sorted([*self.due, (at_s, source, icmp)])


def places(walk):
    return {(d, a) for d, a in zip(walk.distance, walk.answered_by, strict=True) if a is not None}


def test_routers_that_quote_eight_octets_are_found_one_at_a_time():
    # RFC 792: the IP header and 64 bits of the datagram, which say nothing of the attempt.
    silent = {2, 4}
    hops = schedule(max_distance=12, flows=2)

    def route(distance):
        if distance in silent:
            return None
        return TARGET if distance >= 6 else router(distance)

    played = ShortQuotes(hops, route)
    walk = played.run()
    assert places(walk) == {(d, route(d)) for d in (1, 3, 5, 6)}
    assert played.now_s <= 2.0
    assert sum(a is not None for a in walk.answered_by) == 8
    assert dict(walk.unplaced).keys() == {router(1), router(3), router(5), TARGET}


def test_a_late_answer_without_a_name_is_put_nowhere():
    # It comes while the next distance is asked, and can never be confirmed there.
    hops = schedule(max_distance=6)
    played = ShortQuotes(hops, {3: router(3)}.get, late={router(3): LONGEST_S + 0.005})
    walk = played.run()
    assert places(walk) == set()
    assert dict(walk.unplaced).keys() == {router(3)}


def test_asking_one_at_a_time_is_bounded_in_time():
    hops = schedule(max_distance=30, flows=2)
    played = ShortQuotes(hops, lambda d: router(1) if d == 1 else None)
    walk = played.run()
    assert places(walk) == {(1, router(1))}
    assert played.now_s <= 1.0 + BUDGET_S


def test_an_answer_with_a_name_beside_lone_probes_keeps_its_place():
    hops = schedule(max_distance=2, attempts=1)
    probes, now_s = walk_all(hops)
    hops.on_short_quote(HopAnswer(at_s=now_s, source=router(1), icmp_type=11, icmp_code=0))
    lone = hops.take(hops.next_send_s())
    assert lone.distance == 1
    answer(hops, probes[1], now_s + 0.2, TARGET, 3, 3)
    hops.on_short_quote(HopAnswer(at_s=now_s + 0.35, source=router(1), icmp_type=11, icmp_code=0))
    again = hops.take(hops.next_send_s())
    hops.on_short_quote(HopAnswer(at_s=now_s + 0.36, source=router(1), icmp_type=11, icmp_code=0))
    assert again.distance == 1
    walk = hops.walk(now_s=now_s + 3, target=TARGET, protocol="udp")
    assert places(walk) == {(1, router(1)), (2, TARGET)}


def test_what_a_far_end_can_make_the_laptop_keep_is_bounded():
    hops = schedule(max_distance=1, attempts=1)
    probe = hops.take(hops.next_send_s())
    for i in range(2 * MOST_FURTHER):
        answer(hops, probe, 0.01, f"2001:db8::{i:x}", 11, 0)
        hops.on_foreign(f"2001:db8:1::{i:x}")
    walk = hops.walk(now_s=1.0, target=TARGET, protocol="udp")
    assert len(walk.further) == MOST_FURTHER
    assert len(walk.unplaced) == MOST_UNPLACED
