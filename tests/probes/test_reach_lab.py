"""Ports stopped by a real filter at the operator's edge, and the laptop seen through real NAT."""

import json
import sys
from pathlib import Path

import pytest

from agent.practice.line import FaultChoice, LineSpec
from agent.practice.network import PracticeNetwork
from agent.practice.open_ports import ANSWER_PORT, MAIL_PORT
from agent.record.typed import measurement_of
from agent.stats.reach import reach_statistics

pytestmark = [pytest.mark.lab, pytest.mark.once]

ROOT = Path(__file__).parents[2]

MEASURE = """
import json, sys
from agent.clock import SystemClock, Timeline
from agent.engines.reach import SystemReach
from agent.ports.binding import Binding
from agent.ports.running import Unattended
from agent.probes.reach import ServerEnds, measure_reach
from agent.record.typed import measurement_document
from agent.settings.model import PortCheck, ReachPlan

server, site, answers, mail = sys.argv[1:]
checks = (PortCheck(name="mail", host=site, port=int(mail)),)
found = measure_reach(
    SystemReach(Binding(interface="eth0")), checks,
    ServerEnds(address=server, answer_port=int(answers)), ReachPlan(attempts=1, waiting_s=0.5),
    resolve=lambda host: host, timeline=Timeline.begin(SystemClock()), within_s=10.0,
    running=Unattended(),
)
print(json.dumps(measurement_document(found)))
"""

SERVE = ("--port=8642", "--reflector-port=8642", f"--answer-port={ANSWER_PORT}")


@pytest.fixture(scope="module")
def seen(require_lab):
    """Return (statistics of the attempts, addresses of the network, the laptop's own)."""
    spec = LineSpec(rtt_ms=4, seed=8, faults=(FaultChoice.parse("port-blocked-operator"),))
    with PracticeNetwork(spec) as network:
        plan = network.addresses
        serving = network.server.popen(
            [sys.executable, "-m", "agent", "serve", f"--host={plan.server}", *SERVE], cwd=ROOT
        )
        serving.stderr.readline()
        where = (plan.server, plan.sites[0].address, str(ANSWER_PORT), str(MAIL_PORT))
        done = network.laptop.run(
            [sys.executable, "-c", MEASURE, *where], timeout=40, plain=True, cwd=ROOT
        )
        assert done.returncode == 0, done.stderr
        found = measurement_of(json.loads(done.stdout)).observed
        return reach_statistics(found), plan, network.laptop.address


def test_answers_come_as_far_as_the_router_that_filters(seen):
    found, plan, _ = seen
    (mail,) = found.ports
    assert (mail.outcome, mail.compared_with) == ("filtered", 80)
    assert mail.hops == ((plan.router,), (plan.edge,), (plan.core[0][1],))
    assert (mail.answers_to, mail.others_to, mail.reached_at) == (2, 3, 4)


def test_the_server_sees_the_routers_address_over_both_transports(seen):
    found, plan, own = seen
    assert {flow.transport.value for flow in found.sightings} == {"tcp", "udp"}
    assert {flow.seen_address for flow in found.sightings} == {plan.wan}
    assert {flow.own_address for flow in found.sightings} == {own}
