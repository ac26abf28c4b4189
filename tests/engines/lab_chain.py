"""Builds a row of routers in namespaces and walks it; run inside a namespace of its own.

Arguments: the number of hops, the silent ones (comma-separated, may be empty), and the user the
walk runs as ("same" leaves it). Prints JSON. Addresses are of the benchmark range (RFC 2544).
"""

import json
import os
import socket
import subprocess
import sys
from contextlib import ExitStack

from agent.clock import SystemClock, Timeline
from agent.engines.linux_datagram import open_echo_socket, open_path_socket
from agent.engines.waiting import wait_together
from agent.errors import CannotMeasure
from agent.measurements import Role
from agent.ports.binding import Binding
from agent.ports.running import Unattended
from agent.probes.delay import measure_delay
from agent.probes.path import walk_path
from agent.settings.model import EchoPlan, PathPlan

SETTINGS = {"net.ipv4.ip_forward": "1", "net.ipv4.icmp_ratelimit": "0"}


def run(*argv):
    subprocess.run(argv, check=True, timeout=20)


def inside(pid, *argv):
    run("nsenter", "-t", str(pid), "-n", *argv)


def node(stack):
    process = stack.enter_context(
        subprocess.Popen(["unshare", "-n", "cat"], stdin=subprocess.PIPE, stdout=subprocess.PIPE)
    )
    stack.callback(process.kill)
    # An echoed line says that the namespace is there.
    process.stdin.write(b"ready\n")
    process.stdin.flush()
    process.stdout.readline()
    return process.pid


def left(i):
    return f"198.18.{i}.1"


def right(i):
    return f"198.18.{i}.2"


def build(stack, hops, silent):
    run("ip", "link", "set", "lo", "up")
    pids = [os.getpid()] + [node(stack) for _ in range(hops)]
    for i in range(1, hops + 1):
        near, far = pids[i - 1], pids[i]
        peer = ("type", "veth", "peer", "name", f"in{i}", "netns", str(far))
        inside(near, "ip", "link", "add", f"out{i}", *peer)
        inside(near, "ip", "addr", "add", f"{left(i)}/24", "dev", f"out{i}")
        inside(near, "ip", "link", "set", f"out{i}", "up")
        inside(near, "ip", "route", "add", "default", "via", right(i))
        inside(far, "ip", "addr", "add", f"{right(i)}/24", "dev", f"in{i}")
        inside(far, "ip", "link", "set", f"in{i}", "up")
        inside(far, "sysctl", "-q", "-w", *(f"{k}={v}" for k, v in SETTINGS.items()))
        if i > 1:
            inside(far, "ip", "route", "add", "198.18.1.0/24", "via", left(i))
    for i in silent:
        chain = "type filter hook output priority 0; ip protocol icmp drop;"
        inside(pids[i], "nft", f"table ip t {{ chain o {{ {chain} }}; }}")


def become(user):
    if user != "same":
        os.setgroups([])
        os.setgid(int(user))
        os.setuid(int(user))


def ports(measured):
    seen = measured.observed
    return {
        "state": measured.state,
        "clock": measured.clock,
        "duration_s": measured.duration_s,
        "distance": seen.distance,
        "answered_by": seen.answered_by,
        "icmp_type": seen.icmp_type,
        "rtt_ms": seen.rtt_ms,
        "unplaced": seen.unplaced,
    }


def walk(hops):
    timeline = Timeline.begin(SystemClock())
    target = right(hops)
    with open_path_socket(Binding(interface="out1"), target, 33434) as sock:
        return walk_path(
            (sock,),
            PathPlan(),
            wait=wait_together,
            timeline=timeline,
            target=target,
            family=4,
            within_s=10,
            running=Unattended(),
        )


def echo(address, raw=None):
    try:
        sock = open_echo_socket(Binding(interface="out1", ipv4=left(1)), address, raw)
    except CannotMeasure as error:
        return {"refused": error.code}
    with sock:
        measured = measure_delay(
            sock,
            EchoPlan(count=50, interval_s=0.005, waiting_s=0.5),
            timeline=Timeline.begin(SystemClock()),
            role=Role.GATEWAY,
            method="icmp-echo",
            address=address,
            family=4,
            within_s=10,
            running=Unattended(),
        )
    return {"outcome": measured.observed.outcome, "clock": measured.clock}


def main(hops, silent, user, group_range):
    with ExitStack() as stack:
        build(stack, hops, silent)
        if group_range:
            run("sysctl", "-q", "-w", f"net.ipv4.ping_group_range={group_range}")
        reading, writing = os.pipe()
        child = os.fork()
        if child == 0:
            raw = socket.socket(socket.AF_INET, socket.SOCK_RAW, socket.IPPROTO_ICMP)
            become(user)
            found = {"user": os.geteuid(), "walk": ports(walk(hops)), "echo": echo(right(1))}
            found["handed"] = echo(right(1), raw)
            os.write(writing, json.dumps(found).encode())
            os._exit(0)
        os.close(writing)
        with os.fdopen(reading) as pipe:
            sys.stdout.write(json.dumps(json.load(pipe)))
        os.waitpid(child, 0)


if __name__ == "__main__":
    main(
        int(sys.argv[1]),
        [int(i) for i in sys.argv[2].split(",") if i],
        sys.argv[3],
        sys.argv[4],
    )
