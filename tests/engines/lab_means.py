"""Times a neighbour that has several manners, without any right; run in a namespace of its own.

The neighbour answers on the first address of each family, drops what is for the second and forbids
what is for the third. It limits its errors as Linux does by default for a first series that is not
paced, and no more after that. Prints JSON: `limited`, that series, and `series`, a list of all the
others. Addresses are of the benchmark range (RFC 2544) and of documentation (RFC 3849).
"""

import json
import subprocess
import sys
from contextlib import ExitStack

from agent.clock import SystemClock, Timeline
from agent.engines.linux_capabilities import Account, effective, keep_only
from agent.engines.linux_datagram import OPENERS, open_echo_socket
from agent.engines.waiting import wait_together
from agent.measurements import Role
from agent.ports.binding import Binding
from agent.ports.datagram import Failed
from agent.ports.running import Unattended
from agent.probes.delay import DelaySeries, measure_delays
from agent.session.several import Aimed, Rounds, open_all
from agent.session.targets import EchoTarget
from agent.settings.model import EchoPlan

PORT = "eth0"
OWN = {4: "198.18.0.2", 6: "2001:db8:7::2"}
ANSWERS = {4: "198.18.0.1", 6: "2001:db8:7::1"}
DROPS = {4: "198.18.0.8", 6: "2001:db8:7::8"}
FORBIDS = {4: "198.18.0.9", 6: "2001:db8:7::9"}
LENGTH = {4: 24, 6: 64}
FILTER = f"""
table inet t {{ chain i {{ type filter hook input priority 0;
    ip daddr {DROPS[4]} drop; ip6 daddr {DROPS[6]} meta l4proto != icmpv6 drop;
    ip daddr {FORBIDS[4]} reject with icmp type admin-prohibited;
    ip6 daddr {FORBIDS[6]} meta l4proto != icmpv6 reject with icmpv6 type admin-prohibited;
}}; }}
"""
TRIES = 50
PLAN = EchoPlan(count=40, interval_s=0.016, waiting_s=0.3, tail_s=0.0)
SWITCHING = PLAN.model_copy(update={"switch_when_silent": True})


def run(*argv):
    subprocess.run(argv, check=True, timeout=20)


def neighbour(stack):
    """Return the argv prefix that runs a program in the neighbour's namespace."""
    process = stack.enter_context(
        subprocess.Popen(["unshare", "-n", "cat"], stdin=subprocess.PIPE, stdout=subprocess.PIPE)
    )
    stack.callback(process.kill)
    # An echoed line says that the namespace is there.
    process.stdin.write(b"ready\n")
    process.stdin.flush()
    process.stdout.readline()
    return process.pid, ["nsenter", "-t", str(process.pid), "-n"]


def build(stack):
    pid, there = neighbour(stack)
    run("ip", "link", "set", "lo", "up")
    for prefix in ([], there):
        # Nobody else could hold the addresses: they are used at once.
        run(*prefix, "sysctl", "-q", "-w", "net.ipv6.conf.default.accept_dad=0")
    run("ip", "link", "add", PORT, "type", "veth", "peer", "name", PORT, "netns", str(pid))
    for prefix, held in (([], [OWN]), (there, [ANSWERS, DROPS, FORBIDS])):
        for family in (4, 6):
            without_wait = ("nodad",) if family == 6 else ()
            for addresses in held:
                place = f"{addresses[family]}/{LENGTH[family]}"
                run(*prefix, "ip", "address", "add", place, "dev", PORT, *without_wait)
        run(*prefix, "ip", "link", "set", PORT, "up")
    run(*there, "nft", FILTER)
    return there


def at_once():
    """Return a series of 30 datagrams within half a second."""
    return measure_delays(
        (
            DelaySeries(
                socket=OPENERS["udp-unreachable"](Binding(interface=PORT), ANSWERS[4], 33434),
                plan=EchoPlan(count=30, interval_s=0.016, waiting_s=0.3, tail_s=0.0),
                role=Role.GATEWAY,
                method="udp-unreachable",
                address=ANSWERS[4],
            ),
        ),
        wait_together,
        timeline=Timeline.begin(SystemClock()),
        within_s=10.0,
        running=Unattended(),
    )[0]


def until_answered():
    """Return once the neighbour answers IPv6: a port may take a second to call its link ready."""
    with OPENERS["udp-unreachable"](Binding(interface=PORT), ANSWERS[6], 33434) as sock:
        for _ in range(TRIES):
            sock.send(b"")
            while events := sock.poll(0.1):
                if any(isinstance(event, Failed) for event in events):
                    return
    raise SystemExit("the neighbour does not answer")


def opener(target):
    binding = Binding(interface=PORT, ipv4=OWN[4], ipv6=OWN[6])
    if target.method == "icmp-echo":
        return open_echo_socket(binding, target.address)
    return OPENERS[target.method](binding, target.address, target.port)


def aims():
    for family in (4, 6):
        yield Aimed(target=EchoTarget(role=Role.GATEWAY, address=ANSWERS[family]), plan=PLAN)
        yield Aimed(target=EchoTarget(role=Role.SERVER, address=ANSWERS[family]), plan=PLAN)
        yield Aimed(target=EchoTarget(role=Role.MODEM, address=DROPS[family]), plan=SWITCHING)
        yield Aimed(target=EchoTarget(role=Role.SERVER, address=FORBIDS[family]), plan=PLAN)
        yield Aimed(target=EchoTarget(role=Role.MODEM, address=FORBIDS[family]), plan=PLAN)


def shown(measured):
    seen = measured.observed
    return {
        "role": measured.role,
        "address": measured.address,
        "family": measured.family,
        "method": measured.method,
        "clock": measured.clock,
        "reason": measured.reason and measured.reason.code,
        "outcome": seen.outcome if seen else None,
        "errors": seen.error_from if seen else None,
        "rtt_ms": seen.rtt_ms if seen else None,
        "answers_limited": seen and seen.answers_limited,
    }


def main():
    with ExitStack() as stack:
        there = build(stack)
        limited = at_once()
        run(*there, "sysctl", "-q", "-w", "net.ipv4.icmp_ratelimit=0", "net.ipv6.icmp.ratelimit=0")
        until_answered()
        # A fresh namespace lets no group send echo; without the right to raw sockets nobody may.
        keep_only(0, Account())
        assert effective() == 0
        rounds = Rounds(
            opener=opener,
            wait=wait_together,
            timeline=Timeline.begin(SystemClock()),
            running=Unattended(),
        )
        found = rounds.run(open_all(list(aims()), opener), 30.0)
        said = {"limited": shown(limited), "series": [shown(m) for m in found]}
        sys.stdout.write(json.dumps(said))


if __name__ == "__main__":
    main()
