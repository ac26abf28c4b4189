"""One transfer to or from a URL by the product, printed as JSON; runs on a practice host.

URL DIRECTION INTERFACE SECONDS
"""

import dataclasses
import json
import sys

from loopback_servers import LiteralNames

from agent.clock import SystemClock, Timeline
from agent.engines.bulk import BulkEngine
from agent.engines.http import HttpxEngine
from agent.measurements import Direction
from agent.ports.binding import Binding
from agent.ports.running import Unattended
from agent.probes.throughput import measure_throughput
from agent.settings.model import ThroughputPlan


def main(url, direction, interface, seconds):
    """Measure and print."""
    measured = measure_throughput(
        BulkEngine(HttpxEngine(Binding(interface=interface), LiteralNames())),
        ThroughputPlan(mode="fixed", flows=3, seconds=float(seconds)),
        direction=Direction(direction),
        url=url,
        token=None,
        timeline=Timeline.begin(SystemClock()),
        within_s=30.0,
        running=Unattended(),
    )
    sys.stdout.write(json.dumps(dataclasses.asdict(measured), default=str) + "\n")


if __name__ == "__main__":
    main(*sys.argv[1:])
