"""The parts that faults of home and laptop are made of, without a network."""

import math
import os
import socket

import pytest
from hypothesis import given
from hypothesis import strategies as st

from agent.practice.collisions import (
    ROUND_FRAME_OCTETS,
    SLOT_OCTETS,
    Busy,
    Mismatch,
    chance_listening,
)
from agent.practice.faults import CATALOGUE, find_fault, played_figures, told_facts
from agent.practice.faults_laptop import FULL_SPEED_BPS
from agent.practice.home_figures import port_figures
from agent.practice.household import PERIOD_S, Traffic, drain, fill
from agent.practice.line import FaultChoice, LineSpec, Severity
from agent.practice.network import PracticeNetwork
from agent.practice.relay import COUNTERS, RelayPlan, Way
from agent.practice.starving import taken_times

IP, ARP = b"\x08\x00", b"\x08\x06"
LOST = COUNTERS.index("lost")
HUNDRED = 100_000_000


def frame(octets, kind=IP):
    return (b"\x02" * 12 + kind).ljust(octets, b"\0")


def played(text):
    return played_figures(LineSpec(faults=(FaultChoice.parse(text),)))


# On the wire a full frame is 1538 octets (IEEE 802.3), of which TCP with time stamps carries 1448
# (RFC 7323 §3.2): 94.1 Mbit/s of a port of 100.
@pytest.mark.parametrize(("speed", "payload"), [(HUNDRED, 94.15e6), (10_000_000, 9.415e6)])
def test_a_port_carries_its_speed_less_what_frames_cost(speed, payload):
    for rate in port_figures(speed).values():
        assert rate * 1448 / 1514 == pytest.approx(payload, rel=1e-4)


def test_a_bus_carries_no_more_than_its_bulk_transfers():
    """19 transfers of 64 octets in a millisecond (USB 2.0 §5.8.4, from memory)."""
    assert FULL_SPEED_BPS == 19 * 64 * 8 * 1000


WORSE_WITH = {
    "four-wire-cable": ("home_down_bps", -1),
    "duplex-mismatch": ("collision_share", 1),
    "weak-wifi": ("home_loss", 1),
    "busy-household-down": ("household_share", 1),
    "busy-household-up": ("household_share", 1),
    "slow-second-router": ("router_share", -1),
    "flapping-port": ("port_gone_s", 1),
    "slow-laptop": ("laptop_share", -1),
    "slow-bus": ("home_down_bps", -1),
    "hidden-hop": ("home_delay_ms", 1),
    "laptop-traffic": ("laptop_traffic_bps", 1),
}


@pytest.mark.parametrize("name", WORSE_WITH)
def test_a_fault_is_worse_from_severity_to_severity(name):
    figure, sign = WORSE_WITH[name]
    depths = [sign * played(f"{name}:{one}")[figure] for one in Severity]
    assert depths == sorted(depths)
    assert depths[0] < depths[-1]


def test_a_port_carries_no_more_than_it_is_told_to_have():
    for fault in CATALOGUE:
        for severity, effect in fault.effects.items():
            spec = LineSpec(faults=(FaultChoice(name=fault.name, severity=severity),))
            told = told_facts(spec)
            limit = min(told.get("speed_bps", math.inf), told.get("bus_bps", math.inf))
            if limit < math.inf:
                assert effect.plays["home_down_bps"] <= limit
                assert effect.plays["home_up_bps"] <= limit


def test_what_needs_a_fast_tier_says_so():
    """A port of 100 Mbit/s meets 90 % of the tier of 100, the usual share on cable."""
    light, severe = (
        find_fault("four-wire-cable").effects[one] for one in (Severity.LIGHT, Severity.SEVERE)
    )
    assert light.least_down_bps > HUNDRED
    assert severe.least_down_bps is None


def test_the_truth_says_what_was_played():
    spec = LineSpec(faults=(FaultChoice.parse("weak-wifi"),))
    truth = PracticeNetwork(spec).truth()
    assert truth["segment"] == "home"
    assert played("weak-wifi").items() <= truth.items()
    assert "home_loss" not in PracticeNetwork(LineSpec()).truth()


def test_short_frames_are_sent_again_when_they_collide():
    """Within 512 bit times a collision is noticed (IEEE 802.3 §4.4.2)."""
    assert chance_listening(1e9, 5e-6, SLOT_OCTETS) == 0
    assert chance_listening(1e9, 5e-6, SLOT_OCTETS + 1) == 1


@given(st.floats(0, 1e5), st.floats(1e-6, 1e-3), st.floats(1, 10))
def test_collisions_grow_with_load_and_with_length(frames_s, airtime_s, more):
    """The chance that a Poisson stream has an arrival in a time t is 1 - exp(-rate t)."""
    base = chance_listening(frames_s, airtime_s, 1514)
    assert base == pytest.approx(-math.expm1(-frames_s * airtime_s), abs=1e-12)
    assert base <= chance_listening(frames_s * more, airtime_s, 1514) <= 1
    assert base <= chance_listening(frames_s, airtime_s * more, 1514) <= 1


@given(st.integers(200, 4000), st.floats(1e-6, 2e-4))
def test_a_steady_stream_is_as_busy_as_it_is(frames_s, airtime_s):
    busy = Busy()
    for number in range(frames_s):
        busy.sent(number / frames_s, airtime_s)
    seen, share = busy.at(1.0)
    assert seen == pytest.approx(frames_s, rel=0.15)
    assert share == pytest.approx(min(1.0, frames_s * airtime_s), rel=0.15)
    assert busy.at(3.0)[0] < 1e-9 * frames_s


@pytest.fixture
def cable():
    """Make both directions of a mismatched cable; give them with their counters."""
    log = os.memfd_create("log")
    shared = memoryview(bytearray(2 * 8 * len(COUNTERS))).cast("Q")

    def make(share, seed=1):
        way = Way(delay_s=0.0)
        plan = RelayPlan(
            ports=("laptop", "router"),
            up=way,
            down=way,
            seed=seed,
            whole_super_frames=False,
            counters=0,
            log=log,
        )
        return Mismatch(share=share, speed_bps=HUNDRED)(plan, shared), shared

    yield make
    os.close(log)


def lost(shared):
    return shared[LOST], shared[len(COUNTERS) + LOST]


def test_one_direction_alone_loses_nothing(cable):
    (_, down), shared = cable(1.0)
    for number in range(5000):
        down.take(frame(1514), number / 8000)
    assert lost(shared) == (0, 0)


def play_a_second(pair, *, sizes, rates, kind=IP):
    """Take a second of frames of two sizes at two rates, up and down."""
    times = [(number / rate, way) for way, rate in enumerate(rates) for number in range(rate)]
    for at, way in sorted(times):
        pair[way].take(frame(sizes[way], kind), at)


def test_long_frames_of_the_listening_end_are_lost_where_the_other_sends(cable):
    """2,000 starts a second against 0.123 ms of a full frame: 1 - exp(-0.246)."""
    pair, shared = cable(1.0)
    play_a_second(pair, sizes=(66, 1514), rates=(2000, 4000))
    up, down = lost(shared)
    airtime_s = (1514 + ROUND_FRAME_OCTETS) * 8 / HUNDRED
    assert down / 4000 == pytest.approx(-math.expm1(-2000 * airtime_s), rel=0.15)
    assert up / 2000 == pytest.approx(4000 * airtime_s, rel=0.15)


def test_idle_echoes_come_through_nearly_clean(cable):
    """50 short frames a second each way: one in some thousands overlaps."""
    pair, shared = cable(1.0)
    play_a_second(pair, sizes=(98, 98), rates=(50, 50))
    assert sum(lost(shared)) <= 2


def test_a_smaller_share_loses_less_and_the_same_again(cable):
    counts = []
    for share, seed in ((1.0, 1), (0.2, 1), (0.2, 1)):
        pair, shared = cable(share, seed)
        before = sum(lost(shared))
        play_a_second(pair, sizes=(1514, 1514), rates=(1000, 1000))
        counts.append(sum(lost(shared)) - before)
    assert counts[1] == counts[2] < counts[0] / 3


def test_only_packets_are_counted_out(cable):
    pair, shared = cable(1.0)
    play_a_second(pair, sizes=(1514, 1514), rates=(4000, 4000), kind=ARP)
    assert lost(shared) == (0, 0)


def traffic(rate_bps, flows=4):
    return Traffic(outside="192.0.2.2", down=True, rate_bps=rate_bps, flows=flows, seed=1)


@given(st.floats(1e6, 1e9), st.integers(1, 32))
def test_pieces_of_all_flows_add_up_to_the_rate(rate_bps, flows):
    """Each flow moves a piece in every period; 1448 octets of a frame of 1514 are payload."""
    piece = traffic(rate_bps, flows).piece_octets
    payload_bps = piece * flows * 8 / PERIOD_S
    assert payload_bps * 1514 / 1448 == pytest.approx(rate_bps, rel=0.01)


@pytest.fixture
def ends():
    """Two ends of a stream."""
    one, other = socket.socketpair()
    with one, other:
        yield one, other


def test_a_piece_is_taken_whole_and_nothing_beyond_it(ends):
    one, other = ends
    fill(one, 70_000)
    one.sendall(b"next")
    drain(other, 70_000)
    assert other.recv(10) == b"next"


def test_a_piece_that_breaks_off_is_an_error(ends):
    one, other = ends
    fill(one, 10)
    one.shutdown(socket.SHUT_WR)
    with pytest.raises(ConnectionResetError):
        drain(other, 11)


counted = st.lists(st.integers(0, 10**9), min_size=10, max_size=10)


@given(st.lists(counted, min_size=1, max_size=4), st.sampled_from([0.12, 0.25, 0.5]))
def test_taken_time_is_moved_from_idle_to_used(processors, share):
    """Fields of proc_stat(5): user, nice, system, idle, then six more."""
    lines = [f"cpu{number} {' '.join(map(str, one))}" for number, one in enumerate(processors)]
    text = "\n".join([*lines, "intr 1 2 3", "ctxt 4"])
    shown = taken_times(text, share).splitlines()
    assert len(shown) == len(processors)
    for number, (one, line) in enumerate(zip(processors, shown, strict=True)):
        name, *fields = line.split()
        after = list(map(int, fields))
        assert name == f"cpu{number}"
        assert sum(after) == sum(one)
        assert after[3] == pytest.approx(one[3] * share, abs=1)
        assert [*after[1:3], *after[4:]] == [*one[1:3], *one[4:]]
