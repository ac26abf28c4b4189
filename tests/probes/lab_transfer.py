"""Two programs for a host of the practice network: a server, and one transfer printed as JSON."""

import dataclasses
import json
import sys

from agent.clock import SystemClock, Timeline
from agent.engines.bulk import BulkEngine
from agent.engines.http import HttpxEngine
from agent.measurements import Direction
from agent.ports.binding import Binding
from agent.ports.running import Unattended
from agent.probes.server import read_card, transfer_urls
from agent.probes.throughput import measure_throughput
from agent.server.app import ServeOptions, serve
from agent.settings.model import ThroughputPlan
from agent.stats.throughput import throughput_statistics


class Literal:
    """A names port for literal addresses."""

    def resolve(self, name, _family, _within_s):
        return (name,)


def run_server(address):
    """Serve until killed; says the port once clients can connect."""
    serve(ServeOptions(host=address), lambda at: say(str(at.port)))


def say(line):
    """Put one line on standard output at once."""
    sys.stdout.write(line + "\n")
    sys.stdout.flush()


def run_client(address, port, interface, direction, seconds):
    """Measure one direction and print what was observed."""
    running = Unattended()
    http = HttpxEngine(Binding(interface=interface), Literal())
    card_url = f"http://{address}:{port}/card"
    way = Direction(direction)
    measured = measure_throughput(
        BulkEngine(http),
        ThroughputPlan(seconds=float(seconds)),
        direction=way,
        url=transfer_urls(card_url, read_card(http, card_url, None, 5))[way],
        token=None,
        timeline=Timeline.begin(SystemClock()),
        within_s=30.0,
        running=running,
    )
    found = throughput_statistics(measured.observed, way) if measured.observed else None
    document = dataclasses.asdict(measured) | {
        "used": running.bytes_used,
        "statistics": dataclasses.asdict(found) if found else None,
    }
    say(json.dumps(document, default=str))


if __name__ == "__main__":
    if sys.argv[1] == "serve":
        run_server(sys.argv[2])
    else:
        run_client(*sys.argv[2:])
