"""Who limited a rate, told from a table of sights; thresholds are judgement, no source.

Window and round trip: worked numbers of RFC 6349 §3.3.1.
"""

from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st
from visits import calm, criterion, cut_short, down, failed, judge, link, tier, up, visit

from agent.assessment.limiter import limiter_of
from agent.assessment.model import Limiting, Verdict
from agent.assessment.sight import Sight, late_ratio
from agent.measurements import CountedBy, Direction, Kind, Medium, Phase, Role, State, TcpCounters
from agent.settings.model import Purpose
from agent.stats.tcp import window_limit_bps

MEETS, BELOW, OPEN = Verdict.MEETS, Verdict.BELOW, Verdict.NOT_PROVEN
LINE, LAPTOP, PORT = Limiting.LINE, Limiting.LAPTOP, Limiting.PORT
SERVER, OTHER, WINDOW = Limiting.SERVER, Limiting.OTHER_TRAFFIC, Limiting.WINDOW
UNSURE = Limiting.UNDETERMINED
DOWN, UP = Direction.DOWN, Direction.UP

SLOW = {"goodput_bps": 50e6, "wanted_bps": 87e6, "ceiling_bps": 941.482e6, "port_share": 0.97}
CALM = {
    "foreign_bps": 0.0,
    "cpu_ratio": 0.03,
    "waited_ratio": 0.01,
    "unread_ratio": 0.01,
    "idle_ratio": 0.0,
    "late_ratio": 0.0,
    "busiest_core_ratio": 0.3,
    "steal_ratio": 0.0,
    "window_bps": 400e6,
    "window_limited_ratio": 0.0,
    "send_buffer_limited_ratio": 0.0,
    "server_told": True,
    "server_capacity_bps": 1e9,
    "server_cpu_ratio": 0.1,
}


@pytest.mark.parametrize(
    ("way", "change", "expected"),
    [
        (DOWN, {}, LINE),
        (UP, {}, LINE),
        # A busy machine whose program asks for little.
        (DOWN, {"busiest_core_ratio": 1.0, "steal_ratio": 0.3, "waited_ratio": 3.0}, LINE),
        (DOWN, {"cpu_ratio": 0.4, "busiest_core_ratio": 0.99}, LAPTOP),
        (DOWN, {"cpu_ratio": 0.4, "busiest_core_ratio": 0.9}, LINE),
        (DOWN, {"cpu_ratio": 0.4, "steal_ratio": 0.2}, LAPTOP),
        (DOWN, {"cpu_ratio": 0.97}, LAPTOP),
        (UP, {"cpu_ratio": 1.4}, LAPTOP),
        (DOWN, {"unread_ratio": 0.8}, LAPTOP),
        (UP, {"idle_ratio": 0.5}, LAPTOP),
        # Late by half the time: twice 50 would reach 87; late by a quarter does not explain it.
        (DOWN, {"late_ratio": 0.5}, LAPTOP),
        (DOWN, {"late_ratio": 0.25}, LINE),
        (DOWN, {"late_ratio": 0.25, "wanted_bps": None}, LAPTOP),
        (DOWN, {"window_bps": 55e6}, WINDOW),
        (DOWN, {"window_bps": 55e6, "unread_ratio": 0.8}, LAPTOP),
        (UP, {"window_bps": 55e6, "window_limited_ratio": 0.9}, WINDOW),
        (UP, {"window_bps": 55e6, "window_limited_ratio": None}, WINDOW),
        # A full queue before the line: much in flight, little window-limited time.
        (UP, {"window_bps": 55e6, "window_limited_ratio": 0.1}, LINE),
        (UP, {"send_buffer_limited_ratio": 0.8}, WINDOW),
        (DOWN, {"server_capacity_bps": 52e6}, SERVER),
        (DOWN, {"server_port_bps": 960e6}, SERVER),
        (DOWN, {"server_cpu_ratio": 0.97}, SERVER),
        (DOWN, {"crowded": True}, SERVER),
        (DOWN, {"foreign_bps": 30e6}, OTHER),
        # 50 and twice 5 are no 87.
        (DOWN, {"foreign_bps": 5e6}, LINE),
        (DOWN, {"foreign_bps": 5e6, "wanted_bps": 55e6}, OTHER),
        (DOWN, {"foreign_bps": 1e6, "wanted_bps": 51e6}, LINE),
        (DOWN, {"goodput_bps": 920e6, "wanted_bps": 1400e6}, PORT),
        (DOWN, {"radio": True}, UNSURE),
        (DOWN, {"radio": True, "cpu_ratio": 0.9}, LAPTOP),
    ],
)
def test_each_limiter_by_its_own_facts(way, change, expected):
    own = {"unread_ratio": None} if way is UP else {"idle_ratio": None}
    sight = Sight(direction=way, **{**SLOW, **CALM, **own, **change})
    limiter, confidence, values = limiter_of(sight)
    assert limiter is expected
    assert 0.5 <= confidence <= 1.0
    assert values["goodput_bps"] == sight.goodput_bps


@pytest.mark.parametrize(
    ("window_bytes", "rtt_ms", "printed_bps"),
    [(16_000, 5, 25.6e6), (16_000, 10, 12.8e6), (64_000, 15, 34.1e6), (128_000, 25, 40.9e6)],
)
def test_a_rate_of_one_window_per_round_trip_is_the_windows(window_bytes, rtt_ms, printed_bps):
    """RFC 6349 §3.3.1 and figures 3.3.1a and b, windows in units of 1000 octets."""
    allowed = window_limit_bps(window_bytes, rtt_ms)
    assert allowed == pytest.approx(printed_bps, rel=0.005)
    sight = Sight(direction=DOWN, goodput_bps=0.95 * printed_bps, window_bps=allowed)
    assert limiter_of(sight)[0] is WINDOW
    wide = replace(sight, window_bps=2 * allowed)
    assert limiter_of(wide)[0] is LINE


def test_the_line_is_surer_the_more_could_have_spoken_against_it():
    bare = Sight(direction=DOWN, goodput_bps=50e6)
    told = replace(bare, unread_ratio=0.0)
    card = replace(told, server_told=True)
    found = [limiter_of(sight)[1] for sight in (bare, told, card)]
    assert found == sorted(set(found))


shares = st.one_of(st.none(), st.floats(0, 2))
rates = st.one_of(st.none(), st.floats(1, 1e11))


@given(st.sampled_from([DOWN, UP]), st.floats(1, 1e11), st.data())
def test_every_sight_has_a_limiter(way, goodput, data):
    names = {n for n in CALM if n.endswith("_ratio")}
    facts = {n: data.draw(shares) for n in names} | {
        n: data.draw(rates) for n in ("wanted_bps", "ceiling_bps", "window_bps", "foreign_bps")
    }
    limiter, confidence, _ = limiter_of(Sight(direction=way, goodput_bps=goodput, **facts))
    assert limiter in Limiting
    assert 0.5 <= confidence <= 1.0


@pytest.mark.parametrize(
    ("ends", "expected"),
    [
        (tuple(i * 0.05 for i in range(1, 21)), 0.0),
        # Nearly twice as long is no more than a late look or two.
        (tuple(i * 0.089 for i in range(1, 21)), 0.0),
        # Two looks in two seconds, seen under a processor quota, where forty were planned.
        ((1.5, 2.0), 1.9 / 2.0),
        # Every second look came three slices late.
        ((0.05, 0.25, 0.3, 0.5), 0.3 / 0.5),
        ((), None),
    ],
)
def test_how_late_the_looks_came(ends, expected):
    found = late_ratio(ends, 0.05)
    assert found == (None if expected is None else pytest.approx(expected))


def test_a_program_kept_from_looking_was_kept_from_reading():
    """Stopped for three quarters of the time: four times 25 would have been enough."""
    whole = down(25e6)
    stopped = tuple(i * 0.2 for i in range(1, 31))
    seen = replace(whole.observed, slice_end_s=stopped, slice_bytes=(625_000,) * 30, slice_flows=())
    kept = replace(whole, observed=seen)
    assert limiter(judge(visit(kept))).values["why"] == "kept-back"
    far = replace(whole, observed=replace(seen, counted_by=CountedBy.SERVER))
    assert limiter(judge(visit(far))).limiter is LINE


def told(measured, first=(), last=(), **facts):
    """A transfer with counters of its flows and other facts."""
    seen = replace(measured.observed, tcp_first=tuple(first), tcp=tuple(last), **facts)
    return replace(measured, observed=seen)


def limiter(conclusion, direction=DOWN):
    (found,) = [one for one in conclusion.assessment.limiters if one.direction is direction]
    return found


def reading(at_s, **facts):
    return TcpCounters(at_s=at_s, **{"min_rtt_ms": 20.0, **facts})


def test_facts_of_the_record_reach_the_verdict_and_the_next_step():
    """Six windows of 20,000 octets per 20 ms are 48 Mbit/s."""
    narrow = told(down(46e6), [], [reading(6.0, receive_window_bytes=20_000)] * 6)
    found = judge(visit(narrow))
    assert limiter(found).limiter is WINDOW
    assert limiter(found).values["window_bps"] == pytest.approx(48e6)
    rate = criterion(found, "throughput-down")
    assert (rate.outcome, rate.reason.code, rate.reason.values["by"]) == (OPEN, "limited", "window")
    assert found.assessment.verdict is OPEN
    assert found.diagnosis.findings[0].code == "window-limits"


def test_a_queue_of_unread_data_is_the_laptops():
    last = [reading(6.0, receive_window_bytes=10_000, unread_bytes=900_000)]
    found = judge(visit(told(down(46e6), [], last)))
    assert limiter(found).limiter is LAPTOP
    assert found.diagnosis.findings[0].next_step == "free-the-laptop"


def test_an_upload_that_had_nothing_to_send_is_the_laptops():
    pair = [reading(1.0, busy_ms=0.0)], [reading(6.0, busy_ms=2_000.0)]
    found = judge(visit(told(up(5e6), *pair)))
    assert limiter(found, UP).values["idle_ratio"] == pytest.approx(0.6)
    assert criterion(found, "throughput-up").outcome is OPEN


@pytest.mark.parametrize(("other_bytes", "expected"), [(30_000_000, OPEN), (0, BELOW)])
def test_other_traffic_comes_from_the_transfers_own_account(other_bytes, expected):
    pair = [reading(0.0, bytes_received=0)], [reading(6.0, bytes_received=37_500_000)]
    frames = 37_500_000 * 1514 // 1448
    slow = told(down(50e6), *pair, interface_bytes=frames + other_bytes)
    found = judge(visit(slow))
    assert criterion(found, "throughput-down").outcome is expected
    assert (limiter(found).limiter is OTHER) is (other_bytes > 0)


@pytest.mark.parametrize(
    ("before", "after", "expected"),
    [
        ({"cpu_ratio": 0.2}, {"cpu_ratio": 0.3}, LINE),
        ({"cpu_ratio": 0.2}, {"cpu_ratio": 0.96}, SERVER),
        ({"capacity_bps": 55e6}, {"capacity_bps": 55e6}, SERVER),
        ({"capacity_bps": 1e9}, {"capacity_bps": 1e9, "down_bps": 970e6}, SERVER),
        ({"capacity_bps": 1e9}, {"capacity_bps": 1e9, "up_bps": 970e6}, LINE),
        ({}, {"crowded_s": 12.0}, SERVER),
        ({}, {"crowded_s": 40.0}, LINE),
        ({"cpu_ratio": "full"}, {"crowded_s": "lately", "capacity_bps": True}, LINE),
    ],
)
def test_the_servers_card_speaks_for_the_server(before, after, expected):
    """The second card was given half a minute after the first."""
    cards = (
        {"time": "2026-05-04T10:00:00.000+00:00", "load": before},
        {"time": "2026-05-04T10:00:30.000+00:00", "load": after},
    )
    found = judge(visit(down(50e6)), server_cards=cards)
    assert limiter(found).limiter is expected
    assert found.assessment.verdict is (BELOW if expected is LINE else OPEN)


@pytest.mark.parametrize("cards", [({},), ({"load": 3},), ({"time": 5, "load": {}},) * 2])
def test_a_card_without_load_says_nothing(cards):
    assert limiter(judge(visit(down(50e6)), server_cards=cards)).limiter is LINE


def test_a_server_without_a_turn_is_the_limit():
    refused = failed(
        Kind.THROUGHPUT, Role.SERVER, "server-busy", id="throughput-down", direction=DOWN
    )
    assert limiter(judge(visit(refused))).limiter is SERVER


def test_what_was_skipped_has_no_limiter_and_what_was_cut_short_an_open_one():
    skipped = failed(
        Kind.THROUGHPUT,
        Role.SERVER,
        "no-consent",
        state=State.SKIPPED,
        id="throughput-down",
        direction=DOWN,
    )
    found = judge(visit(skipped, cut_short(up(5e6))))
    assert [one.direction for one in found.assessment.limiters] == [UP]
    assert limiter(found, UP).limiter is UNSURE


def test_radio_and_port():
    radio = judge(visit(link(medium=Medium.WIRELESS), down(50e6)))
    assert limiter(radio).limiter is UNSURE
    sold = tier(down_bps=1_500_000_000)
    port = judge(visit(down(935e6)), sold=sold)
    assert limiter(port).limiter is PORT
    assert port.assessment.verdict is MEETS


@pytest.mark.parametrize(("share", "expected"), [(0.97, PORT), (0.999, LINE)])
def test_the_ports_share_is_the_settings(share, expected):
    from visits import settings

    rules = settings()
    rule = rules.fitness.port_ceiling.model_copy(update={"threshold": share})
    fitness = rules.fitness.model_copy(update={"port_ceiling": rule})
    changed = rules.model_copy(update={"fitness": fitness})
    found = judge(visit(down(935e6)), sold=tier(down_bps=1_500_000_000), rules=changed)
    assert limiter(found).limiter is expected
    assert criterion(found, "throughput-down").limit == pytest.approx(941.482e6 * share, rel=1e-5)
    assert found.assessment.verdict is (MEETS if expected is PORT else BELOW)


def test_only_readings_around_the_transfer_speak_of_its_processors():
    greedy = told(down(50e6, started_s=20.0, duration_s=6.0), cpu_ratio=0.5)
    full = {"core_ratios": (1.0, 0.2), "phase": Phase.DURING}
    around = (calm(**full, since_s=19.9, at_s=26.2),)
    beside = (calm(**full, since_s=27.0, at_s=34.0),)
    assert limiter(judge(visit(greedy), conditions=around)).limiter is LAPTOP
    assert limiter(judge(visit(greedy), conditions=beside)).limiter is LINE


AGAIN = {"id": "throughput-down-2"}


@pytest.mark.parametrize(
    ("rates", "expected", "reason"),
    [
        ((50e6,), BELOW, "single-measurement"),
        ((50e6, 50.1e6), BELOW, None),
        ((50e6, 52e6), BELOW, None),
        ((50e6, 70e6), OPEN, "measurements-disagree"),
        ((50e6, 104e6), MEETS, "measurements-disagree"),
        ((103e6, 104e6), MEETS, None),
    ],
)
def test_two_measurements_of_one_direction(rates, expected, reason):
    second = [down(rate, **AGAIN) for rate in rates[1:]]
    found = criterion(judge(visit(down(rates[0]), *second)), "throughput-down")
    assert (found.outcome, found.reason and found.reason.code) == (expected, reason)
    assert found.measurements == ("throughput-down", "throughput-down-2")[: len(rates)]


def test_in_a_complaint_two_that_disagree_prove_nothing():
    found = judge(visit(down(50e6), down(104e6, **AGAIN)), purpose=Purpose.COMPLAINT)
    rate = criterion(found, "throughput-down")
    assert (rate.outcome, rate.reason.code) == (OPEN, "measurements-disagree")


def test_a_measurement_held_back_or_cut_short_confirms_nothing():
    narrow = told(down(49.9e6, **AGAIN), [], [reading(6.0, receive_window_bytes=21_000)] * 6)
    short = cut_short(down(50e6, **AGAIN))
    for second in (narrow, short):
        rate = criterion(judge(visit(down(50e6), second)), "throughput-down")
        assert (rate.outcome, rate.reason.code) == (BELOW, "single-measurement")


def test_a_fault_in_the_second_leaves_the_first():
    gone = failed(Kind.THROUGHPUT, Role.SERVER, direction=DOWN, **AGAIN)
    rate = criterion(judge(visit(down(50e6), gone)), "throughput-down")
    assert (rate.outcome, rate.reason.code) == (BELOW, "single-measurement")
