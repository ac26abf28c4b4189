"""A row of routers in namespaces with parallel ways, silent and limited hops; walks it.

Run inside a namespace of its own, with a JSON object on the command line (see `Plan`). Prints JSON:
each walk's statistics and time, the true ways, and the probes as they left. Routers answer from an
address of their own, whichever way a packet came. Addresses: RFC 2544 §C.2.2, RFC 5737, RFC 3849.
"""

import dataclasses
import json
import os
import select
import socket
import subprocess
import sys
import time
from contextlib import ExitStack
from itertools import pairwise

from agent.clock import SystemClock, Timeline
from agent.codec.checksum import checksum
from agent.engines.linux_datagram import open_path_socket
from agent.engines.waiting import wait_together
from agent.ports.binding import Binding
from agent.ports.running import Unattended
from agent.probes.path import walk_path
from agent.settings.model import PathPlan
from agent.stats.path import path_statistics

SERVER = {4: "203.0.113.9", 6: "2001:db8:ffff::9"}
PORT = 33434
KEPT_PROBES = 500
EVERY_PROTOCOL = 3
"""ETH_P_ALL of <linux/if_ether.h>: only such a socket hears what leaves."""

# The kernel's own answer quotes a probe of 52 octets; what is forged here is shorter or longer.
OWN_ANSWER = 80
# RFC 4950 §5: label 100048, bottom of stack, TTL 1.
LABELS = bytes.fromhex("2000c588 00080101 186d0101")

SETTINGS = (
    "net.ipv4.ip_forward=1",
    "net.ipv4.icmp_ratelimit=0",
    "net.ipv4.fib_multipath_hash_policy=1",
    "net.ipv6.conf.all.forwarding=1",
    "net.ipv6.conf.all.accept_dad=0",
    "net.ipv6.conf.default.accept_dad=0",
    "net.ipv6.icmp.ratelimit=0",
    "net.ipv6.fib_multipath_hash_policy=1",
)


@dataclasses.dataclass
class Plan:
    """Distances by what stands there; `split` is where two ways begin, joined three hops on.

    `limited` answers twice a second at most, `short` quotes 64 bits, `labelled` adds a stack.
    `refuse` forbids what passes, `loop` sends it back.
    """

    hops: int = 12
    family: int = 4
    walks: int = 1
    flows: int = 2
    user: str = "same"
    silent: tuple = ()
    limited: tuple = ()
    short: tuple = ()
    labelled: tuple = ()
    split: int = 0
    refuse: int = 0
    loop: int = 0
    pause_s: float = 0.0


def run(*argv, text=None):
    subprocess.run(argv, input=text, text=True, check=True, timeout=20, stdout=subprocess.DEVNULL)


def inside(pid, *argv, text=None):
    run("nsenter", "-t", str(pid), "-n", *argv, text=text)


def batch(pid, lines, family=4):
    inside(pid, "ip", f"-{family}", "-batch", "-", text="\n".join(lines) + "\n")


def begin(stack, argv):
    process = stack.enter_context(
        subprocess.Popen(argv, stdin=subprocess.PIPE, stdout=subprocess.PIPE)
    )
    stack.callback(process.kill)
    # An echoed line says that it is there.
    process.stdin.write(b"ready\n")
    process.stdin.flush()
    process.stdout.readline()
    return process.pid


class Network:
    """Nodes by name: "0" the laptop, "1" and so on the routers, "8b" those of the second way."""

    def __init__(self, plan, stack):
        self.plan = plan
        self.pids = {"0": os.getpid()}
        row = [str(i) for i in range(plan.hops + 1)]
        self.links = list(pairwise(row))
        if plan.split:
            s = plan.split
            second = [str(s), f"{s + 1}b", f"{s + 2}b", str(s + 3)]
            self.links += pairwise(second)
        for name in dict.fromkeys(far for _, far in self.links):
            self.pids[name] = begin(stack, ["unshare", "-n", "cat"])
        self.build()
        for distance in (*plan.short, *plan.labelled):
            kind = "short" if distance in plan.short else "labelled"
            forger = [sys.executable, __file__, "forge", kind, own(str(distance), 4)]
            begin(stack, ["nsenter", "-t", str(self.pids[str(distance)]), "-n", *forger])

    def build(self):
        for pid in self.pids.values():
            inside(pid, "sysctl", "-q", "-w", *SETTINGS)
        for i, (near, far) in enumerate(self.links, 1):
            peer = f"peer name in{i} netns {self.pids[far]}"
            batch(self.pids[near], [f"link add out{i} type veth {peer}"])
        for name, pid in self.pids.items():
            batch(pid, ["link set lo up", *self.up(name)])
            for family in (4, 6):
                batch(pid, [*self.addresses(name, family), *self.routes(name, family)], family)
            rules = self.rules(name)
            if rules:
                inside(pid, "nft", rules)

    def up(self, name):
        ends = [(side, i) for i, link in enumerate(self.links, 1) for side in ends_of(link, name)]
        return [f"link set {side}{i} up" for side, i in ends]

    def addresses(self, name, family):
        tail = "nodad" if family == 6 else ""
        width = 32 if family == 4 else 128
        address = SERVER[family] if name == str(self.plan.hops) else own(name, family)
        yield f"addr add {address}/{width} dev lo {tail}"
        for i, link in enumerate(self.links, 1):
            for side in ends_of(link, name):
                end = 1 if side == "out" else 2
                yield f"addr add {hop(i, end, family)} dev {side}{i} {tail}"

    def routes(self, name, family):
        onward = [i for i, (near, _) in enumerate(self.links, 1) if near == name]
        back = [i for i, (_, far) in enumerate(self.links, 1) if far == name]
        ways = "".join(f" nexthop via {hop(i, 2, family, bare=True)}" for i in onward)
        if self.plan.loop and name == str(self.plan.loop):
            ways = f" via {hop(back[0], 1, family, bare=True)}"
        if ways:
            yield f"route add default{ways}"
        if back and back[0] > 1:
            # The way back is one of the two only: for the other flow it is another than out.
            home = "198.19.1.0/24" if family == 4 else "2001:db8:1:1::/64"
            source = "" if name == str(self.plan.hops) else f" src {own(name, family)}"
            yield f"route add {home} via {hop(back[0], 1, family, bare=True)}{source}"

    def rules(self, name):
        plan, distance = self.plan, int(name.rstrip("b"))
        passing, answers = [], []
        if distance in plan.silent:
            answers = ["icmp type time-exceeded drop;", "icmpv6 type time-exceeded drop;"]
        if distance in plan.limited:
            for kind in ("icmp", "icmpv6"):
                answers.append(
                    f"{kind} type time-exceeded limit rate 2/second burst 2 packets accept;"
                )
                answers.append(f"{kind} type time-exceeded drop;")
        if distance in (*plan.short, *plan.labelled):
            answers = [f"ip protocol icmp ip length {OWN_ANSWER} drop;"]
        if plan.refuse and name == str(plan.refuse):
            passing = [
                f"ip daddr {SERVER[4]} reject with icmp admin-prohibited;",
                f"ip6 daddr {SERVER[6]} reject with icmpv6 admin-prohibited;",
            ]
        if not passing and not answers:
            return ""
        chains = (("forward", passing), ("output", answers))
        lines = "\n".join(
            f"chain {hook} {{ type filter hook {hook} priority 0; {' '.join(rules)} }}"
            for hook, rules in chains
        )
        return f"table inet t {{\n{lines}\n}}"

    def ways(self):
        """Return the addresses of each true way, server last."""
        plan, family = self.plan, self.plan.family
        # The first router shares a network with the laptop and answers from there.
        first = [hop(1, 2, family, bare=True)]
        first += [own(str(i), family) for i in range(2, plan.hops)]
        second = list(first)
        for distance in (plan.split + 1, plan.split + 2) if plan.split else ():
            second[distance - 1] = own(f"{distance}b", family)
        return [[*first, SERVER[family]], [*second, SERVER[family]]]


def ends_of(link, name):
    return [side for side, end in zip(("out", "in"), link, strict=True) if end == name]


def own(name, family):
    distance, second = int(name.rstrip("b")), name.endswith("b")
    if family == 4:
        return f"198.18.{int(second)}.{distance + 1}"
    return f"2001:db8:2:{int(second) + 1}::{distance + 1:x}"


def hop(link, end, family, *, bare=False):
    address = f"198.19.{link}.{end}" if family == 4 else f"2001:db8:1:{link:x}::{end}"
    return address if bare else f"{address}/{24 if family == 4 else 64}"


def forge(kind, source):
    """Answer in the router's place: what dies here is quoted short, or with a label stack."""
    heard = socket.socket(socket.AF_PACKET, socket.SOCK_DGRAM, socket.htons(0x0800))
    raw = socket.socket(socket.AF_INET, socket.SOCK_RAW, socket.IPPROTO_ICMP)
    raw.bind((source, 0))
    sys.stdin.buffer.raw.read(16)
    sys.stdout.write("ready\n")
    sys.stdout.flush()
    while True:
        ready, _, _ = select.select([heard, sys.stdin.buffer.raw], [], [])
        if heard not in ready:
            return
        packet, where = heard.recvfrom(2048)
        if where[2] == socket.PACKET_OUTGOING or packet[8] != 1 or packet[9] != 17:
            continue
        if kind == "short":
            message = bytes([11, 0, 0, 0, 0, 0, 0, 0]) + packet[:28]
        else:
            message = bytes([11, 0, 0, 0, 0, 32, 0, 0]) + packet.ljust(128, b"\0") + LABELS
        message = message[:2] + checksum(message).to_bytes(2, "big") + message[4:]
        raw.sendto(message, (socket.inet_ntoa(packet[12:16]), 0))


def walk(plan):
    target = SERVER[plan.family]
    with ExitStack() as stack:
        binding = Binding(interface="out1")
        sockets = [
            stack.enter_context(open_path_socket(binding, target, PORT)) for _ in range(plan.flows)
        ]
        return walk_path(
            sockets,
            PathPlan(),
            wait=wait_together,
            timeline=Timeline.begin(SystemClock()),
            target=target,
            family=plan.family,
            within_s=10,
            running=Unattended(),
        )


def walks(plan):
    if plan.user != "same":
        os.setgroups([])
        os.setgid(int(plan.user))
        os.setuid(int(plan.user))
    found = []
    for _ in range(plan.walks):
        measured = walk(plan)
        found.append(
            {
                "user": os.geteuid(),
                "state": measured.state,
                "clock": measured.clock,
                "duration_s": measured.duration_s,
                "unplaced": measured.observed.unplaced,
                "path": dataclasses.asdict(path_statistics(measured.observed)),
            }
        )
        time.sleep(plan.pause_s)
    return found


def captured(sock):
    packets = []
    while len(packets) < KEPT_PROBES and select.select([sock], [], [], 0)[0]:
        packet, where = sock.recvfrom(2048)
        if where[2] == socket.PACKET_OUTGOING:
            packets.append(packet.hex())
    return packets


def main(plan):
    with ExitStack() as stack:
        network = Network(plan, stack)
        # Else the checksum is left to the card, and the capture shows half of it.
        run("ethtool", "-K", "out1", "tx", "off", text="")
        witness = stack.enter_context(
            socket.socket(socket.AF_PACKET, socket.SOCK_DGRAM, socket.htons(EVERY_PROTOCOL))
        )
        witness.bind(("out1", EVERY_PROTOCOL))
        reading, writing = os.pipe()
        child = os.fork()
        if child == 0:
            with os.fdopen(writing, "w") as pipe:
                pipe.write(json.dumps(walks(plan)))
            os._exit(0)
        os.close(writing)
        with os.fdopen(reading) as pipe:
            found = json.loads(pipe.read() or "[]")
        os.waitpid(child, 0)
        result = {"walks": found, "ways": network.ways(), "probes": captured(witness)}
        sys.stdout.write(json.dumps(result))


if __name__ == "__main__":
    if sys.argv[1] == "forge":
        forge(*sys.argv[2:])
    else:
        main(Plan(**json.loads(sys.argv[1])))
