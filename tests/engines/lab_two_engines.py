"""Times one host by this agent and by icmplib in turns; run on the laptop of a practice network.

Arguments: the address, and how many probes of each. Prints JSON: round trips in ms by engine.
"""

import json
import sys
import threading

from icmplib import ICMPRequest, ICMPv4Socket

from agent.clock import SystemClock, Timeline
from agent.engines.linux_datagram import open_echo_socket
from agent.measurements import Role
from agent.ports.binding import Binding
from agent.ports.running import Unattended
from agent.probes.delay import measure_delay
from agent.settings.model import EchoPlan


def second(address, count, found):
    """Send by icmplib, each probe after the answer to the one before."""
    with ICMPv4Socket(privileged=False) as sock:
        for number in range(count):
            request = ICMPRequest(address, id=7, sequence=number, payload_size=44)
            sock.send(request)
            reply = sock.receive(request, 2)
            assert (reply.type, reply.bytes_received) == (0, 52)
            found.append((reply.time - request.time) * 1000)


def own(address, count):
    """Send by this agent on its fixed clock."""
    with open_echo_socket(Binding(interface="eth0"), address) as sock:
        return measure_delay(
            sock,
            EchoPlan(count=count, interval_s=0.02, waiting_s=1.0),
            timeline=Timeline.begin(SystemClock()),
            role=Role.SERVER,
            method="icmp-echo",
            address=address,
            family=4,
            within_s=30.0,
            running=Unattended(),
        )


def main(address, count):
    found = []
    thread = threading.Thread(target=second, args=(address, count, found))
    thread.start()
    measured = own(address, count)
    thread.join()
    seen = measured.observed
    said = {"own": seen.rtt_ms, "second": found, "clock": measured.clock, "outcome": seen.outcome}
    sys.stdout.write(json.dumps(said))


if __name__ == "__main__":
    main(sys.argv[1], int(sys.argv[2]))
