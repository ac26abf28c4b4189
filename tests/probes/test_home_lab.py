"""Link, lease and names behind the practice modem, against what the network was built to be."""

import json
import sys
from pathlib import Path

import pytest

from agent.practice.line import FaultChoice, LineSpec
from agent.practice.network import PracticeNetwork

pytestmark = pytest.mark.lab

ROOT = Path(__file__).parents[2]

MEASURE = """
import json, sys
from dataclasses import asdict
from agent.clock import SystemClock, Timeline
from agent.engines.linux_facts import LinuxFacts
from agent.engines.names import BoundNames
from agent.engines.rights import split_rights
from agent.measurements import Phase
from agent.ports.running import Unattended
from agent.probes.conditions import read_conditions, take_reading
from agent.probes.dns import Target, measure_dns
from agent.probes.lease import measure_lease
from agent.probes.line import find_line
from agent.probes.link import measure_link
from agent.settings.model import DnsPlan, LeasePlan

server, name = sys.argv[1:]
rights, facts = split_rights(True), LinuxFacts()
timeline, running = Timeline.begin(SystemClock()), Unattended()
line = find_line(facts)
port = line.interface.name
before = take_reading(facts, port, timeline)
lease = measure_lease(
    facts, rights.frames, LeasePlan(), interface=port, handover="dhcp", timeline=timeline,
    within_s=12.0, running=running, frames_reason=rights.frames_reason,
)
rights.close()
names = [
    measure_dns(
        BoundNames(line.binding, ()), Target(resolver=resolver, test_names=(name,)),
        DnsPlan(queries=20, waiting_s=1.0), timeline=timeline, within_s=10.0, running=running,
    )
    for resolver in facts.resolvers(port)
]
seen = read_conditions(
    facts, Phase.AFTER, interface=port, server=server, timeline=timeline, since=before
)
print(json.dumps({
    "link": asdict(measure_link(facts, port, timeline)),
    "lease": [asdict(m) for m in lease],
    "dns": [asdict(m) for m in names],
    "conditions": asdict(seen),
    "binding": asdict(line.binding),
}))
"""


def measured(network, *, plain=False):
    where = network.server.address, network.addresses.server_name
    done = network.laptop.run(
        [sys.executable, "-c", MEASURE, *where], timeout=40, plain=plain, cwd=ROOT
    )
    assert done.returncode == 0, done.stderr
    return json.loads(done.stdout)


@pytest.fixture(scope="module")
def healthy(require_lab):
    """Return (what was measured with the frame right, without it, the network's own facts)."""
    with PracticeNetwork(LineSpec(rtt_ms=20, seed=5)) as network:
        return (
            measured(network),
            measured(network, plain=True),
            {
                "address": network.laptop.address,
                "router": network.router.address,
                "resolver": network.addresses.resolver,
                "server": network.server.address,
                "interface": network.interface,
            },
        )


def test_the_line_is_the_port_behind_the_router(healthy):
    seen, _, truth = healthy
    assert seen["binding"]["interface"] == truth["interface"]
    assert seen["binding"]["ipv4"] == truth["address"]
    assert seen["link"]["observed"]["up"] is True
    assert (seen["conditions"]["egress"], seen["conditions"]["tested_line"]) == (
        truth["interface"],
        True,
    )
    assert seen["conditions"]["other_traffic_bps"] < 1e6


def test_the_lease_is_the_one_the_router_gave(healthy):
    for seen in healthy[:2]:
        (lease,) = seen["lease"]
        held, truth = lease["observed"], healthy[2]
        assert (held["origin"], held["address"]) == ("dhcp", truth["address"])
        assert held["gateway"] == held["server_id"] == truth["router"]
        assert held["dns"] == [truth["resolver"]]
        # RFC 2131 §4.4.5: the server's T1 and T2 at half and seven eighths of its lease.
        assert held["t1_s"] == held["lease_s"] * 0.5
        assert held["t2_s"] == held["lease_s"] * 0.875


def test_the_probe_hears_the_router_and_a_plain_user_hears_why_not(healthy):
    (with_right,), (without,) = (seen["lease"] for seen in healthy[:2])
    (offer,) = with_right["observed"]["probe"]["offers"]
    truth = healthy[2]
    # RFC 2131 §4.3.1: the same client is offered the address it holds.
    assert (offer["server_id"], offer["address"]) == (truth["router"], truth["address"])
    assert with_right["observed"]["probe_reason"] is None
    assert (without["observed"]["probe"], without["observed"]["probe_reason"]) == (
        None,
        "right-missing",
    )


def test_names_are_answered_in_the_time_of_the_line(healthy):
    (measurement,) = healthy[0]["dns"]
    seen, truth = measurement["observed"], healthy[2]
    assert (measurement["address"], measurement["state"]) == (truth["resolver"], "complete")
    assert set(seen["outcome"]) == {"answered"}
    columns = (seen["name"], seen["qtype"], seen["rcode"], seen["addresses"])
    for name, qtype, rcode, addresses in zip(*columns, strict=True):
        absent = name.startswith("doorstep-absent-")
        # The network has IPv4 alone: a name exists without an IPv6 address (RFC 4074 §3).
        known = [truth["server"]] if qtype == "A" else []
        assert (rcode, addresses) == ((3, []) if absent else (0, known))
    median = sorted(seen["rtt_ms"])[10]
    # 20 ms each round trip; a busy machine may only add.
    assert 19.5 <= median <= 60


def test_no_lease_is_no_address_and_no_offer(require_lab):
    with PracticeNetwork(LineSpec(seed=6, faults=(FaultChoice.parse("no-lease"),))) as network:
        seen = measured(network)
    (lease,) = seen["lease"]
    assert (lease["state"], lease["observed"]["origin"]) == ("complete", "none")
    assert lease["observed"]["probe"]["offers"] == []
    assert seen["dns"] == []


def test_a_dead_resolver_loses_every_query(require_lab):
    with PracticeNetwork(LineSpec(seed=6, faults=(FaultChoice.parse("dead-dns"),))) as network:
        seen = measured(network, plain=True)
    (measurement,) = seen["dns"]
    assert measurement["state"] == "complete"
    assert len(measurement["observed"]["outcome"]) == 20
    assert set(measurement["observed"]["outcome"]) <= {"lost", "refused", "unreachable"}
    assert seen["lease"][0]["observed"]["origin"] == "dhcp"
