"""Programs for hosts of the practice network: a server, a judged transfer, a second flow."""

import json
import socket
import sys
from dataclasses import asdict, replace

from agent.assessment.circumstances import Circumstances
from agent.assessment.sight import sight_of
from agent.chain import case_of, conclude
from agent.clock import SystemClock, Timeline
from agent.engines.bulk import BulkEngine
from agent.engines.http import HttpxEngine
from agent.engines.linux_facts import LinuxFacts
from agent.measurements import Direction, Kind, Phase
from agent.ports.binding import Binding
from agent.ports.running import Unattended
from agent.probes.conditions import read_conditions, take_reading
from agent.probes.link import measure_link
from agent.probes.server import read_card, transfer_urls
from agent.probes.throughput import measure_throughput
from agent.server.app import ServeOptions, serve
from agent.settings.choose import pick_plan, pick_tier
from agent.settings.loader import load
from agent.settings.model import ThroughputPlan

TIER = "Tern Bay 100/20"
CARD_WITHIN_S = 5
SECOND_FLOW_BYTES = 10**10


class Literal:
    """A names port for literal addresses."""

    def resolve(self, name, _family, _within_s):
        return (name,)


def say(value):
    """Put one line on standard output at once."""
    sys.stdout.write(json.dumps(value, default=str) + "\n")
    sys.stdout.flush()


def run_server(address, capacity_bps):
    """Serve until killed; says the port once clients can connect."""
    capacity = float(capacity_bps) or None
    options = ServeOptions(host=address, capacity_bps=capacity, max_flows=32)
    serve(options, lambda at: say(at.port))


class Visit:
    """One transfer of a direction with what surrounds it, judged against the tier."""

    def __init__(self, url, interface, direction, more):
        self.url, self.interface, self.direction = url, interface, Direction(direction)
        self.more = json.loads(more)
        self.facts = LinuxFacts()
        self.timeline = Timeline.begin(SystemClock())
        self.http = HttpxEngine(
            Binding(interface=interface),
            Literal(),
            receive_buffer_bytes=self.more.get("receive_buffer_bytes"),
        )
        self.settings = load(None, {}, {}).settings
        self.plan = pick_plan(self.settings, "standard")
        changes = self.more.get("tier", {})
        self.tier = pick_tier(self.settings, TIER).model_copy(update=changes)

    def card(self):
        return read_card(self.http, self.url, None, CARD_WITHIN_S)

    def measure(self, card, number):
        """Measure once; return the link and the transfer, and the conditions around it."""
        since = take_reading(self.facts, self.interface, self.timeline)
        link = measure_link(self.facts, self.interface, self.timeline)
        measured = measure_throughput(
            BulkEngine(self.http),
            ThroughputPlan(**self.more.get("plan", {"seconds": 5.0, "precision": 0.02})),
            direction=self.direction,
            url=transfer_urls(self.url, card)[self.direction],
            token=None,
            timeline=self.timeline,
            within_s=30.0,
            running=Unattended(),
        )
        during = read_conditions(
            self.facts,
            Phase.DURING,
            interface=self.interface,
            server=None,
            timeline=self.timeline,
            since=since,
            transfers=(measured,),
        )
        return (replace(link, id=f"l{number}"), replace(measured, id=f"t{number}")), during

    def run(self):
        """Measure as often as asked, judge all together, say what came out."""
        before = self.card()
        say("ready")
        sys.stdin.readline()
        found = [self.measure(before, number) for number in range(self.more.get("times", 1))]
        say("measured")
        sys.stdin.readline()
        after = self.card()
        measurements = tuple(one for pair, _ in found for one in pair)
        judged = (
            measurements,
            tuple(during for _, during in found),
            self.settings,
            self.plan,
            self.tier,
            Circumstances(
                nothing_else_on=True,
                server_cards=(before.to_document(), after.to_document()),
            ),
        )
        say(self._told(judged))

    def _told(self, judged):
        conclusion, case = conclude(*judged), case_of(*judged)
        name = f"throughput-{self.direction.value}"
        return {
            "limiters": [asdict(one) for one in conclusion.assessment.limiters],
            "criterion": next(asdict(c) for c in conclusion.assessment.criteria if c.name == name),
            "findings": [asdict(one) for one in conclusion.diagnosis.findings],
            "sights": [
                asdict(seen)
                for item in case.evidence.select(Kind.THROUGHPUT)
                if (seen := sight_of(case, item)) is not None
            ],
            "conditions": [asdict(during) for during in judged[1]],
            "states": [[m.state, m.reason] for m in judged[0]],
        }


def run_second_flow(address, port):
    """Draw a download beside the test until killed; says once it flows."""
    with socket.create_connection((address, int(port)), 5) as other:
        ask = f"GET /download?bytes={SECOND_FLOW_BYTES} HTTP/1.1\r\nHost: {address}\r\n\r\n"
        other.sendall(ask.encode())
        other.recv(65_536)
        say("flowing")
        while other.recv(262_144):
            pass


if __name__ == "__main__":
    part, *rest = sys.argv[1:]
    if part == "serve":
        run_server(*rest)
    elif part == "second-flow":
        run_second_flow(*rest)
    else:
        Visit(*rest).run()
