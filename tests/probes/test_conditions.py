"""Conditions from pairs of readings."""

from dataclasses import replace

import pytest
from accounts import carried
from hypothesis import given
from hypothesis import strategies as st

from agent.clock import ManualClock, Timeline
from agent.measurements import LinkFacts, Medium, Phase
from agent.ports.facts import Counters, Interface, Load, ScriptedFacts, Way
from agent.probes.conditions import (
    Reading,
    core_ratios,
    cpu_ratio,
    other_traffic_bps,
    read_conditions,
    take_reading,
)

SERVER = "198.51.100.10"


def port(name, medium):
    return Interface(
        link=LinkFacts(interface=name, up=True, medium=medium, speed_bps=10**9, duplex="full")
    )


PORTS = (port("eth0", Medium.WIRED), port("tun0", Medium.TUNNEL))


def counted(received, sent=0):
    return Counters(received_bytes=received, sent_bytes=sent)


def reading(at_s, received, busy_s=0.0, total_s=0.0):
    return Reading(at_s=at_s, counters=counted(received), load=Load(busy_s=busy_s, total_s=total_s))


def test_a_pair_of_readings_makes_rates_and_shares():
    clock = ManualClock()
    timeline = Timeline.begin(clock)
    facts = ScriptedFacts(
        ports=PORTS,
        routes={"default": Way(interface="eth0")},
        counted=(counted(1000, 500), counted(2_501_000, 500)),
        loads=(
            Load(busy_s=10.0, total_s=100.0),
            Load(busy_s=11.0, total_s=104.0, on_battery=True, virtual_machine=False),
        ),
    )
    before = take_reading(facts, "eth0", timeline)
    clock.sleep(2.0)
    seen = read_conditions(
        facts, Phase.BEFORE, interface="eth0", server=SERVER, timeline=timeline, since=before
    )
    # 2.5 million bytes in 2 s are 10 Mbit/s; 1 of 4 processor seconds was busy.
    assert (seen.other_traffic_bps, seen.cpu_ratio, seen.at_s) == (10e6, 0.25, 2.0)
    assert (seen.medium, seen.speed_bps, seen.duplex) == (Medium.WIRED, 10**9, "full")
    assert (seen.egress, seen.tested_line, seen.tunnel) == ("eth0", True, None)
    assert (seen.on_battery, seen.virtual_machine) == (True, False)
    assert (seen.since_s, seen.core_ratios, seen.busiest_core_ratio) == (0.0, (), None)
    assert (seen.steal_ratio, seen.process_ratio) == (None, None)


@pytest.mark.parametrize(
    ("received", "sent", "errors"), [(3, 4, 7), (3, None, 3), (None, 0, 0), (None, None, None)]
)
def test_what_the_port_counted_against_its_cable_is_kept(received, sent, errors):
    wired = port("eth0", Medium.WIRED)
    counted_port = replace(
        wired.link, receive_errors=received, transmit_errors=sent, carrier_changes=5
    )
    facts = ScriptedFacts(ports=(replace(wired, link=counted_port),))
    timeline = Timeline.begin(ManualClock())
    seen = read_conditions(facts, Phase.AFTER, interface="eth0", server=None, timeline=timeline)
    assert (seen.errors, seen.carrier_changes) == (errors, 5)


def test_one_full_core_among_idle_ones_is_seen():
    """Four seconds on two cores: one busy throughout, for one of them by the hypervisor."""
    before = Load(
        busy_s=9.0, total_s=200.0, cores=((5.0, 100.0), (4.0, 100.0)), steal_s=1.0, process_s=2.0
    )
    after = Load(
        busy_s=13.5, total_s=208.0, cores=((9.0, 104.0), (4.5, 104.0)), steal_s=2.0, process_s=4.0
    )
    timeline = Timeline.begin(clock := ManualClock())
    facts = ScriptedFacts(ports=PORTS, loads=(before, after))
    since = take_reading(facts, "eth0", timeline)
    clock.sleep(4.0)
    seen = read_conditions(
        facts, Phase.DURING, interface="eth0", server=None, timeline=timeline, since=since
    )
    assert seen.core_ratios == (1.0, 0.125)
    assert seen.busiest_core_ratio == 1.0
    assert (seen.cpu_ratio, seen.steal_ratio) == (4.5 / 8, 1 / 8)
    assert seen.process_ratio == 0.5


def test_a_core_that_went_away_leaves_no_shares():
    before = Reading(at_s=0.0, load=Load(cores=((1.0, 2.0), (1.0, 2.0))))
    assert core_ratios(before, Reading(at_s=1.0, load=Load(cores=((2.0, 4.0),)))) == ()
    assert core_ratios(None, before) == ()


def test_what_the_transfers_account_for_is_no_other_traffic():
    """Their own windows count; what reached the port after them, here 9 Mbyte, does not."""
    timeline = Timeline.begin(clock := ManualClock())
    facts = ScriptedFacts(ports=PORTS, counted=(counted(0), counted(24_000_000)))
    since = take_reading(facts, "eth0", timeline)
    clock.sleep(2.0)
    seen = read_conditions(
        facts,
        Phase.DURING,
        interface="eth0",
        server=None,
        timeline=timeline,
        since=since,
        own_bytes=14_000_000,
        transfers=(carried(1448 * 10_000, 1514 * 10_000, 10_000),),
    )
    assert seen.other_traffic_bps == 0.0


def test_own_traffic_with_its_headers_is_not_other_traffic():
    # 100 full segments of 1448 bytes: 1514-byte frames, and 50 acknowledgements of 66 bytes.
    carried = 100 * 1514 + 50 * 66
    seen = other_traffic_bps(reading(0.0, 0), reading(1.0, carried), own_bytes=100 * 1448)
    assert seen / 8 < 0.01 * carried


@pytest.mark.parametrize(
    ("way", "egress", "tested", "tunnel"),
    [
        ("eth0", "eth0", True, None),
        ("tun0", "tun0", False, "tun0"),
        ("wlan0", "wlan0", False, None),
        (None, None, None, None),
    ],
)
def test_another_way_out_is_noticed(way, egress, tested, tunnel):
    facts = ScriptedFacts(ports=PORTS, routes={"default": Way(interface=way)} if way else {})
    seen = read_conditions(
        facts,
        Phase.AFTER,
        interface="eth0",
        server=SERVER,
        timeline=Timeline.begin(ManualClock()),
    )
    assert (seen.egress, seen.tested_line, seen.tunnel) == (egress, tested, tunnel)
    assert (seen.other_traffic_bps, seen.cpu_ratio) == (None, None)


def test_a_tested_tunnel_is_named():
    facts = ScriptedFacts(ports=PORTS)
    seen = read_conditions(
        facts, Phase.BEFORE, interface="tun0", server=None, timeline=Timeline.begin(ManualClock())
    )
    assert (seen.tunnel, seen.egress) == ("tun0", None)


def test_a_port_that_is_gone_leaves_the_rest():
    facts = ScriptedFacts(ports=(), loads=(Load(on_battery=False, unverified_system="macOS"),))
    seen = read_conditions(
        facts, Phase.AFTER, interface="eth0", server=None, timeline=Timeline.begin(ManualClock())
    )
    assert (seen.medium, seen.on_battery, seen.unverified_system) == (None, False, "macOS")


seconds = st.floats(0, 1e6)


@given(seconds, seconds, seconds, seconds)
def test_the_busy_share_is_a_share(busy, more_busy, total, more_total):
    before = reading(0.0, 0, busy, total)
    after = reading(1.0, 0, busy + more_busy, total + more_total)
    found = cpu_ratio(before, after)
    assert found is None or 0.0 <= found <= 1.0


@given(st.integers(0, 2**40), st.integers(0, 2**40))
def test_other_traffic_is_never_negative(moved, own):
    assert other_traffic_bps(reading(0.0, 5), reading(3.0, 5 + moved), own) >= 0
