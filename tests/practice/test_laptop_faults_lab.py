"""What the laptop's own system shows of a weakness that is really played, all at once."""

import json
import os
import sys

import pytest

from agent.practice.faults import played_figures
from agent.practice.handle import python_path
from agent.practice.line import FaultChoice, LineSpec
from agent.practice.network import PracticeNetwork

pytestmark = [pytest.mark.lab, pytest.mark.once, pytest.mark.usefixtures("require_lab")]

PLAYED = ("tunnel", "laptop-traffic", "battery-saver", "little-memory", "hidden-hop")

READ = """
import json, sys
from dataclasses import asdict
from agent.clock import SystemClock, Timeline
from agent.engines.linux_facts import LinuxFacts
from agent.engines.systems import open_probe_socket
from agent.measurements import Phase
from agent.ports.binding import Binding
from agent.probes.clock_offset import ask_time
from agent.probes.conditions import read_conditions, take_reading

port, server, time_server = sys.argv[1:]
facts, clock = LinuxFacts(), SystemClock()
timeline = Timeline.begin(clock)
since = take_reading(facts, port, timeline)
asked = open_probe_socket("linux", "stamp", Binding(interface=port), time_server, 123)
told = ask_time(asked, time_server, 4711, clock, within_s=2.0)
asked.close()
clock.sleep(0.5)
seen = read_conditions(
    facts, Phase.BEFORE, interface=port, server=server, timeline=timeline, since=since, clock=told
)
print(json.dumps(asdict(seen)))
"""


@pytest.fixture(scope="module")
def seen():
    faults = tuple(FaultChoice.parse(name) for name in PLAYED)
    spec = LineSpec(down_bps=100_000_000, up_bps=20_000_000, rtt_ms=10, faults=faults)
    with PracticeNetwork(spec) as network:
        done = network.laptop.run(
            [
                sys.executable,
                "-c",
                READ,
                network.interface,
                network.server_address,
                network.addresses.outside,
            ],
            timeout=30,
            check=True,
            env={"PYTHONPATH": python_path(os.environ), "PATH": "/usr/bin:/bin"},
            plain=True,
        )
    return json.loads(done.stdout)


def test_what_goes_by_itself_goes_through_the_tunnel(seen):
    assert (seen["tunnel"], seen["egress"], seen["tested_line"]) == ("tunnel", "tunnel", False)


def test_another_program_is_seen_on_the_port(seen):
    """A datagram of 1,000 octets is 1,042 on Ethernet (RFC 768, RFC 791)."""
    spec = LineSpec(faults=(FaultChoice.parse("laptop-traffic"),))
    sent_bps = played_figures(spec)["laptop_traffic_bps"]
    assert sent_bps * 0.5 < seen["other_traffic_bps"] < sent_bps * 1.3


def test_power_and_memory_are_read_from_the_systems_own_files(seen):
    assert (seen["on_battery"], seen["power_saver"]) == (True, "low-power")
    assert seen["memory_free_ratio"] < 0.05
    assert seen["injected"] == []


def test_the_clock_is_this_computers_own_through_line_and_hidden_hop(seen):
    """Round trip of 10 ms on the line and at least 8 ms through the adapters."""
    assert seen["clock"]["reason"] is None
    assert abs(seen["clock_offset_ms"]) <= seen["clock_unsure_ms"]
    assert seen["clock_unsure_ms"] >= (10 + 8) / 2 * 0.95
