"""A laptop, a home router, an edge and the operator's server, whose links carry what a cell says.

Run inside a network namespace of its own with a JSON list of cells; prints one JSON list of what
the search found. A cell: family, up and down (what the line carries each way, bytes of IP),
swallow (routers keep "fragmentation needed" to themselves), clamp (the router lowers TCP's MSS),
loss_percent (of all packets, each way), port (the laptop's own port, bytes). Addresses are of the
benchmark and documentation ranges.
"""

import json
import os
import signal
import subprocess
import sys
import time
from contextlib import ExitStack, closing
from dataclasses import asdict

from agent.clock import SystemClock, Timeline
from agent.engines.http import HttpxEngine
from agent.engines.linux_datagram import open_mtu_socket
from agent.engines.linux_mtu_socket import read_segments
from agent.measurements import Hop, RoundTrip
from agent.ports.binding import Binding
from agent.ports.running import Unattended
from agent.probes.mtu import search_mtu
from agent.probes.server import open_reflector, read_card, reflector_report
from agent.schedules.far import FarReport
from agent.stats.path_mtu import mtu_statistics

PORT = 8642
ETHERNET = 1500
LINKS = 3
NEVER = RoundTrip(count=0)
SYSCTLS = ("net.ipv4.ip_forward=1", "net.ipv6.conf.all.forwarding=1", "net.ipv4.icmp_ratelimit=0")
SYSCTLS6 = ("net.ipv6.icmp.ratelimit=0", "net.ipv6.conf.all.accept_dad=0")
TOO_BIG = """
icmp type destination-unreachable icmp code frag-needed drop
icmpv6 type packet-too-big drop
"""


def run(*argv):
    subprocess.run(argv, check=True, timeout=20)


def near(link, family=4):
    return f"198.18.{link}.1" if family == 4 else f"2001:db8:{link}::1"


def far(link, family=4):
    return f"198.18.{link}.2" if family == 4 else f"2001:db8:{link}::2"


def chain(hook, rules):
    return f"table inet {hook} {{ chain c {{ type filter hook {hook} priority 0; {rules} }}; }}"


class Network:
    """Four hosts in a row; this process is the laptop."""

    def __init__(self, stack):
        self.pids = [os.getpid(), *(self._node(stack) for _ in range(LINKS))]
        run("ip", "link", "set", "lo", "up")
        for pid in self.pids[1:]:
            self.inside(pid, "ip", "link", "set", "lo", "up")
        for pid in self.pids:
            self.inside(pid, "sysctl", "-q", "-w", *SYSCTLS, *SYSCTLS6)
        for link in range(1, LINKS + 1):
            self._join(link)
        self._route()

    @staticmethod
    def _node(stack):
        process = stack.enter_context(
            subprocess.Popen(
                ["unshare", "-n", "cat"], stdin=subprocess.PIPE, stdout=subprocess.PIPE
            )
        )
        stack.callback(process.kill)
        process.stdin.write(b"ready\n")
        process.stdin.flush()
        process.stdout.readline()
        return process.pid

    def inside(self, pid, *argv):
        run("nsenter", "-t", str(pid), "-n", *argv)

    def _join(self, link):
        here, there = self.pids[link - 1], self.pids[link]
        peer = ("type", "veth", "peer", "name", f"in{link}", "netns", str(there))
        self.inside(here, "ip", "link", "add", f"out{link}", *peer)
        for pid, port, family_address in (
            (here, f"out{link}", near),
            (there, f"in{link}", far),
        ):
            self.inside(pid, "sysctl", "-q", "-w", f"net.ipv6.conf.{port}.accept_dad=0")
            self.inside(pid, "ip", "addr", "add", f"{family_address(link)}/24", "dev", port)
            address6 = f"{family_address(link, 6)}/64"
            self.inside(pid, "ip", "addr", "add", address6, "dev", port, "nodad")
            self.inside(pid, "ip", "link", "set", port, "up")

    def _route(self):
        for family, flag in ((4, "-4"), (6, "-6")):
            for link in range(1, LINKS + 1):
                via = far(link, family)
                self.inside(self.pids[link - 1], "ip", flag, "route", "add", "default", "via", via)
        for family, flag, prefix in ((4, "-4", "198.18.1.0/24"), (6, "-6", "2001:db8:1::/64")):
            back = ("route", "add", prefix, "via")
            self.inside(self.pids[2], "ip", flag, *back, near(2, family))
            self.inside(self.pids[3], "ip", flag, *back, near(3, family))

    def set(self, cell):
        """Make the links carry what a cell says, and forget what was learnt before."""
        for family, flag, prefix in ((4, "-4", "198.18.1.0/24"), (6, "-6", "2001:db8:1::/64")):
            up = ("route", "replace", "default", "via", far(2, family), "mtu", "lock")
            self.inside(self.pids[1], "ip", flag, *up, str(cell["up"]))
            down = ("route", "replace", prefix, "via", near(2, family), "mtu", "lock")
            self.inside(self.pids[2], "ip", flag, *down, str(cell["down"]))
            for pid in self.pids:
                self.inside(pid, "ip", flag, "route", "flush", "cache")
        port = str(cell.get("port", ETHERNET))
        self.inside(self.pids[0], "ip", "link", "set", "out1", "mtu", port)
        for pid in self.pids[1:3]:
            self.inside(pid, "nft", "flush", "ruleset")
        self._filter(cell)

    def _filter(self, cell):
        if cell.get("swallow"):
            for pid in self.pids[1:3]:
                self.inside(pid, "nft", chain("output", TOO_BIG))
        forward = ""
        if cell.get("clamp"):
            mss = cell["up"] - (40 if cell["family"] == 4 else 60)
            forward += f"tcp flags syn tcp option maxseg size set {mss};"
        if cell.get("loss_percent"):
            forward += f"meta l4proto udp numgen random mod 100 < {cell['loss_percent']} drop;"
        if forward:
            self.inside(self.pids[1], "nft", chain("forward", forward))


class Literal:
    """Names are addresses already."""

    def resolve(self, name, family, within_s):
        return (name.strip("[]"),)

    def query(self, resolver, name, qtype, within_s):
        raise AssertionError(name)


def measure(family):
    """Return the statistics of one search, as a visit makes it."""
    address = far(LINKS, family)
    host = address if family == 4 else f"[{address}]"
    url, binding = f"http://{host}:{PORT}/card", Binding(interface="out1")
    http = HttpxEngine(binding, Literal())
    began_s = time.monotonic()
    card = read_card(http, url, None, 5.0)
    tcp = read_segments(binding, address, PORT, 2.0)
    grant = open_reflector(http, url, card, None, within_s=5.0)

    def far_report():
        report = reflector_report(http, url, card, grant, None, within_s=5.0)
        return FarReport(received=report.received, order=report.runs)

    with closing(open_mtu_socket(binding, address, grant.port)) as socket:
        found = search_mtu(
            socket,
            ssid=grant.ssid,
            key=grant.secret,
            timeline=Timeline.begin(SystemClock()),
            target=address,
            family=family,
            running=Unattended(),
            far_report=far_report,
            tcp=tcp,
        )
    seconds = time.monotonic() - began_s
    return asdict(mtu_statistics(found, hops(family))) | {"seconds": seconds}


def hops(family):
    """Return the row of routers as a walk gives it."""
    return tuple(
        Hop(distance=d, sent=1, answered=1, addresses=(far(d, family),), names=(), rtt_ms=NEVER)
        for d in range(1, LINKS + 1)
    )


def main(cells):
    with ExitStack() as stack:
        network = Network(stack)
        argv = [sys.executable, "-m", "agent", "serve", "--host", "::", "--port", str(PORT)]
        serve = stack.enter_context(
            subprocess.Popen(
                ["nsenter", "-t", str(network.pids[3]), "-n", *argv, "--reflector-port", str(PORT)],
                stderr=subprocess.PIPE,
            )
        )
        stack.callback(serve.send_signal, signal.SIGINT)
        while b"Serving" not in serve.stderr.readline():
            assert serve.poll() is None, "the server ended"
        for cell in cells:
            network.set(cell)
            sys.stdout.write(json.dumps(measure(cell["family"])) + "\n")
            sys.stdout.flush()


if __name__ == "__main__":
    main(json.loads(sys.argv[1]))
