"""A small program for the delay lab: fill both directions here, time the line from beside."""

import json
import sys
import threading

from agent.clock import SystemClock, Timeline
from agent.engines.bulk import BulkEngine
from agent.engines.http import HttpxEngine
from agent.measurements import Direction, Role
from agent.ports.binding import Binding
from agent.ports.running import Unattended
from agent.probes.server import open_reflector, read_card, transfer_urls
from agent.probes.throughput import measure_throughput
from agent.session.prober.client import ProberClient
from agent.session.prober.order import FetchOrder, Order, SeriesOrder
from agent.settings.model import EchoPlan, ThroughputPlan

BINDING = Binding(interface="eth0")


class Literal:
    """Names are addresses already."""

    def resolve(self, name, family, within_s):
        return (name,)

    def query(self, resolver, name, qtype, within_s):
        raise AssertionError(name)


def filled(http, url, timeline, seconds):
    """Fill both directions at once; return bit/s of each."""
    plan = ThroughputPlan(seconds=seconds, precision=1e-6, flows=4)
    moved = {}

    def way(direction, place):
        moved[direction.value] = measure_throughput(
            BulkEngine(http),
            plan,
            direction=direction,
            url=place,
            token=None,
            timeline=timeline,
            within_s=30.0,
            running=Unattended(),
        )

    card = read_card(http, url, None, 5.0)
    places = transfer_urls(url, card)
    threads = [threading.Thread(target=way, args=(d, places[d])) for d in Direction if d in places]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert all(one.observed for one in moved.values()), [one.reason for one in moved.values()]
    return {name: sum(one.observed.slice_bytes) * 8 / seconds for name, one in moved.items()}


def main(address, port, seconds):
    url = f"http://{address}:{port}/card"
    http = HttpxEngine(BINDING, Literal())
    timeline = Timeline.begin(SystemClock())
    card = read_card(http, url, None, 5.0)
    grant = open_reflector(http, url, card, None, within_s=5.0)
    prober = ProberClient.start(lambda _family: None)
    stamp = SeriesOrder(
        role=Role.SERVER, method="stamp", address=address, port=grant.port, ssid=grant.ssid
    )
    under_way = prober.begin(
        Order(
            origin_s=timeline.origin_s,
            binding=BINDING,
            load="down",
            plan=EchoPlan(count=5_000, interval_s=0.01, waiting_s=1.0),
            within_s=60.0,
            series=(stamp,),
            fetch=FetchOrder(url=url, address=address),
        )
    )
    rates = filled(http, url, timeline, seconds)
    under_way.end()
    (measured,), moved = under_way.results()
    prober.close()
    seen = measured.observed
    found = {
        "state": measured.state,
        "clock": measured.clock,
        "rtt_ms": seen.rtt_ms,
        "rates": rates,
        "fetched": sum(one.problem is None for one in seen.foreign),
        "bytes": moved,
    }
    sys.stdout.write(json.dumps(found))


if __name__ == "__main__":
    main(sys.argv[1], int(sys.argv[2]), float(sys.argv[3]))
