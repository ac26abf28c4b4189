"""A small program for the STAMP lab: one granted series, told step by step to whoever runs it."""

import json
import sys

from agent.clock import SystemClock, Timeline
from agent.engines.http import HttpxEngine
from agent.engines.linux_datagram import open_stamp_socket
from agent.measurements import Role
from agent.ports.binding import Binding
from agent.ports.running import Unattended
from agent.probes.delay import measure_delay
from agent.probes.server import open_reflector, read_card, reflector_report
from agent.schedules.far import FarReport, far_copies, received_by_report
from agent.settings.model import EchoPlan

BINDING = Binding(interface="eth0")


class Literal:
    """Names are addresses already."""

    def resolve(self, name, family, within_s):
        return (name,)

    def query(self, resolver, name, qtype, within_s):
        raise AssertionError(name)


def pause(word):
    """Say where the program is, and go on when told to: the line is then quiet."""
    sys.stdout.write(word + "\n")
    sys.stdout.flush()
    sys.stdin.readline()


def main(address, port, count, interval_s, mode):
    url = f"http://{address}:{port}/card"
    http = HttpxEngine(BINDING, Literal())
    card = read_card(http, url, None, 5.0)
    grant = open_reflector(
        http, url, card, None, within_s=5.0, authenticated=mode == "authenticated"
    )
    pause("granted")
    with open_stamp_socket(BINDING, address, grant.port) as sock:
        measured = measure_delay(
            sock,
            EchoPlan(count=count, interval_s=interval_s, waiting_s=0.5),
            timeline=Timeline.begin(SystemClock()),
            role=Role.SERVER,
            method="stamp",
            address=address,
            family=4,
            ssid=grant.ssid,
            key=grant.secret,
            within_s=30.0,
            running=Unattended(),
        )
    pause("measured")
    report = reflector_report(http, url, card, grant, None, within_s=5.0)
    seen = measured.observed
    log = FarReport(received=report.received, order=report.runs)
    known, order = received_by_report(log, [rtt is not None for rtt in seen.rtt_ms])
    found = {
        "outcome": seen.outcome,
        "copies": seen.copies,
        "arrival_order": seen.arrival_order,
        "forward_ms": seen.forward_ms,
        "backward_ms": seen.backward_ms,
        "authenticated": seen.authenticated,
        "payload_bytes": seen.payload_bytes,
        "by_counts": {
            "received": seen.far_received,
            "arrivals": seen.far_arrivals,
            "count": seen.far_count,
        },
        "by_report": {
            "received": known,
            "order": order,
            "copies": far_copies(log, count),
            "all": list(report.arrivals()),
        },
        "refused": report.refused,
    }
    sys.stdout.write(json.dumps(found) + "\n")


if __name__ == "__main__":
    main(sys.argv[1], int(sys.argv[2]), int(sys.argv[3]), float(sys.argv[4]), sys.argv[5])
