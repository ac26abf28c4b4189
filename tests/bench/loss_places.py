"""Print where loss is placed: 100 simulated visits of each line, and real ones on request.

The simulated visits send the standard plan's probes through a model of three stretches (home,
access, core), each of which loses packets each way; a far end may answer no more than so many
probes a second (RFC 1812 §4.3.2.8). `--real LINE --visits N` makes visits behind the practice
modem instead: through its relay, or through a rule in the router or a core host that drops what it
forwards. Bar: 2 % on the access line is placed there in 95 of 100, a far end that limits its
answers on a good line is never called lossy.
"""

import argparse
import json
import os
import random
import subprocess
import sys
import tempfile
from collections import Counter
from dataclasses import dataclass
from pathlib import Path

from practice_visits import table

ROOT = Path(__file__).resolve().parents[2]
sys.path[:0] = [str(ROOT)]

from agent.assessment.circumstances import Circumstances  # noqa: E402 - the package is beside
from agent.chain import conclude  # noqa: E402
from agent.measurements import (  # noqa: E402
    EchoOutcome,
    EchoSeries,
    Kind,
    LeaseFacts,
    LinkFacts,
    Measurement,
    Medium,
    Role,
    State,
)
from agent.practice.line import LineSpec  # noqa: E402
from agent.practice.line_settings import (  # noqa: E402
    SERVER_PORT,
    settings_for_line,
    settings_text,
)
from agent.practice.network import PracticeNetwork  # noqa: E402
from agent.practice.runner import PracticeVisit, visit_command, visit_environment  # noqa: E402
from agent.settings.choose import pick_plan, pick_tier  # noqa: E402
from agent.settings.loader import load  # noqa: E402
from agent.settings.model import PluggedInto  # noqa: E402

TIER = "Tern Bay 100/20"
STRETCHES = ("home", "access", "core")
REACH = {Role.GATEWAY: 1, Role.FIRST_HOP: 2, Role.SERVER: 3}
TRIP_S = {Role.GATEWAY: 0.0004, Role.FIRST_HOP: 0.008, Role.SERVER: 0.012}
ROUTED = {Role.GATEWAY: "192.168.1.1", Role.FIRST_HOP: "198.51.100.1", Role.SERVER: "203.0.113.9"}


@dataclass(frozen=True, slots=True, kw_only=True)
class Line:
    """A line: loss by (stretch, way), mean run of losses, answers a second by role, the truth."""

    segment: str
    direction: str | None = None
    loss: dict = None
    run: float = 1.0
    limits: dict = None
    bridged: bool = False
    bar: int = 0


def lossy(stretch, ratio, *ways):
    return {(stretch, way): ratio for way in ways}


BOTH = ("up", "down")
LIMITED_GATEWAY, LIMITED_HOP = {Role.GATEWAY: (5, 50)}, {Role.FIRST_HOP: (5, 50)}
ACCESS = lossy("access", 0.02, *BOTH)
LINES = {
    "access 2 % both ways": Line(segment="access", direction="both", loss=ACCESS, bar=95),
    "access 2 % up": Line(
        segment="access", direction="up", loss=lossy("access", 0.02, "up"), bar=95
    ),
    "access 2 % down": Line(
        segment="access", direction="down", loss=lossy("access", 0.02, "down"), bar=95
    ),
    "access 2 % both, runs of 3": Line(segment="access", direction="both", loss=ACCESS, run=3),
    "access 1 % both ways": Line(
        segment="access", direction="both", loss=lossy("access", 0.01, *BOTH)
    ),
    "access 2 %, bridge mode": Line(
        segment="access", direction="both", loss=ACCESS, bridged=True, bar=95
    ),
    "access 2 %, gateway limited": Line(
        segment="access", direction="both", loss=ACCESS, limits=LIMITED_GATEWAY, bar=95
    ),
    "access 2 %, first hop limited": Line(
        segment="access", direction="both", loss=ACCESS, limits=LIMITED_HOP, bar=95
    ),
    "core 2 % both ways": Line(
        segment="operator", direction="both", loss=lossy("core", 0.02, *BOTH)
    ),
    "core 2 % up": Line(segment="operator", direction="up", loss=lossy("core", 0.02, "up")),
    "core 2 % down": Line(segment="operator", direction="down", loss=lossy("core", 0.02, "down")),
    "home 2 % both ways": Line(segment="home", direction="both", loss=lossy("home", 0.02, *BOTH)),
    "home 2 % up": Line(segment="home", direction="up", loss=lossy("home", 0.02, "up")),
    "good line": Line(segment="none", bar=100),
    "good line, gateway limited": Line(segment="none", limits=LIMITED_GATEWAY, bar=100),
    "good line, first hop limited": Line(segment="none", limits=LIMITED_HOP, bar=100),
    "good, bridged, gateway limited": Line(
        segment="none", limits=LIMITED_GATEWAY, bridged=True, bar=100
    ),
}


class Stretch:
    """Loses packets one way of one stretch: a share of them, in runs of a mean length."""

    def __init__(self, ratio, run, draw):
        self.leaves = 1 / run
        self.enters = ratio / (1 - ratio) / run
        self.draw, self.losing = draw, draw.random() < ratio

    def loses(self):
        change = self.leaves if self.losing else self.enters
        if self.draw.random() < change:
            self.losing = not self.losing
        return self.losing


class Answers:
    """Lets so many answers a second pass, and as many at once (a token bucket)."""

    def __init__(self, rate):
        self.rate, self.left, self.at_s = rate, rate / 4, 0.0

    def passes(self, at_s):
        self.left = min(self.rate / 4, self.left + (at_s - self.at_s) * self.rate)
        self.at_s = at_s
        passes = self.left >= 1
        self.left -= passes
        return passes


def fates(line, plan, draw):
    """Return for each role whether each probe arrived, and whether its answer came back."""
    ways = {
        (s, w): Stretch((line.loss or {}).get((s, w), 0.0), line.run, draw)
        for s in STRETCHES
        for w in BOTH
    }
    limits = {role: Answers(draw.uniform(*of)) for role, of in (line.limits or {}).items()}
    plans = dict.fromkeys(REACH, plan.near_echo) | {Role.SERVER: plan.server_echo}
    probes = sorted(
        (n * p.interval_s, role.value) for role, p in plans.items() for n in range(p.count)
    )
    found = {role: [] for role in plans}
    for at_s, name in probes:
        role = Role(name)
        passed = STRETCHES[: REACH[role]]
        if line.bridged and role is Role.GATEWAY:
            passed = STRETCHES[:2]
        arrived = not any(ways[s, "up"].loses() for s in passed)
        answers = arrived and (role not in limits or limits[role].passes(at_s))
        came = answers and not any(ways[s, "down"].loses() for s in reversed(passed))
        found[role].append((arrived, came))
    return found


def series(role, address, probes, plan):
    """Return the measurement of a series; only the server tells what arrived there."""
    came = [back for _, back in probes]
    trip_ms = TRIP_S[role] * 1000
    observed = EchoSeries(
        waiting_s=plan.waiting_s,
        interval_s=plan.interval_s,
        payload_bytes=plan.payload_bytes,
        sent_s=tuple(n * plan.interval_s for n in range(len(probes))),
        rtt_ms=tuple(trip_ms + n % 5 * 0.05 if back else None for n, back in enumerate(came)),
        outcome=tuple(EchoOutcome.ANSWERED if back else EchoOutcome.LOST for back in came),
        copies=tuple(map(int, came)),
        arrival_order=tuple(n for n, back in enumerate(came) if back),
        far_received=tuple(there for there, _ in probes) if role is Role.SERVER else None,
    )
    return measured(Kind.DELAY, role, observed, address=address)


def measured(kind, role, observed, **more):
    return Measurement(
        kind=kind,
        role=role,
        state=State.COMPLETE,
        method="model",
        started_s=0.0,
        duration_s=1.0,
        id=f"{kind.value}-{role.value}",
        family=4,
        observed=observed,
        **more,
    )


def simulated(line, settings, seed):
    """Return the loss findings of one simulated visit."""
    plan = pick_plan(settings, "standard")
    gateway = "198.51.100.1" if line.bridged else ROUTED[Role.GATEWAY]
    own = "198.51.100.77" if line.bridged else "192.168.1.20"
    addresses = {**ROUTED, Role.GATEWAY: gateway}
    found = fates(line, plan, random.Random(seed))
    roles = [r for r in REACH if not (line.bridged and r is Role.FIRST_HOP)]
    delays = [
        series(r, addresses[r], found[r], plan.server_echo if r is Role.SERVER else plan.near_echo)
        for r in roles
    ]
    lease = LeaseFacts(family=4, origin="dhcp", address=own, prefix=24, gateway=gateway)
    link = LinkFacts(interface="eth0", up=True, medium=Medium.WIRED, speed_bps=1_000_000_000)
    conclusion = conclude(
        (
            measured(Kind.LINK, Role.LOCAL, link),
            measured(Kind.LEASE, Role.LOCAL, lease),
            *delays,
        ),
        (),
        settings,
        plan,
        pick_tier(settings, TIER),
        Circumstances(plugged_into=PluggedInto.MODEM if line.bridged else PluggedInto.ROUTER),
    )
    return [
        (f.segment.value, f.values.get("direction"), f.confidence)
        for f in conclusion.diagnosis.findings
        if f.code.startswith("loss-")
    ]


def row(name, line, visits):
    """Return the table's row of a line, and whether its bar is reached."""
    first = [found[0] if found else ("none", None, 1.0) for found in visits]
    right = [one for one in first if one[0] == line.segment]
    direction = sum(one[1] == line.direction for one in right)
    others = Counter(one[0] for one in first if one[0] != line.segment)
    spelt = ", ".join(f"{count} {segment}" for segment, count in others.most_common()) or "-"
    likely = sum(one[2] >= 0.75 for one in right)
    count = len(visits)
    reached = len(right) * 100 >= line.bar * count
    bar = "-" if not line.bar else f"{line.bar} %: {'yes' if reached else 'NO'}"
    return (name, count, line.segment, len(right), likely, direction, spelt, bar), reached


HEAD = ("line", "visits", "truth", "placed", "likely", "direction", "elsewhere", "bar")

REAL = {
    "access": (LINES["access 2 % both ways"], {"loss_up": 0.02, "loss_down": 0.02}, None),
    "access-up": (LINES["access 2 % up"], {"loss_up": 0.02}, None),
    "access-down": (LINES["access 2 % down"], {"loss_down": 0.02}, None),
    "core": (LINES["core 2 % both ways"], {}, ("core", "forward", "")),
    "home": (LINES["home 2 % both ways"], {}, ("router", "prerouting", "iifname lan")),
    "good": (LINES["good line"], {}, None),
    "gateway-limited": (LINES["good line, gateway limited"], {}, ("router", "limit", "")),
    "first-hop-limited": (LINES["good line, first hop limited"], {}, ("edge", "limit", "")),
}
"""The model line with the same truth, what the practice line loses, and a rule on one host."""


def rule(hook, match):
    """Return the packet filter of a host that loses 2 % of what it passes, or limits its echo."""
    if hook == "limit":
        echo = "icmp type echo-reply limit rate over 20/second burst 5 packets drop"
        return _filter(f"type filter hook output priority 0; {echo};")
    drop = "numgen random mod 100 < 2 drop"
    arriving = f"type filter hook {hook} priority -300; {match} {drop};"
    leaving = f"type filter hook postrouting priority 300; oifname lan {drop};"
    return _filter(arriving, leaving) if match else _filter(arriving)


def _filter(*chains):
    named = "\n".join(f"chain c{place} {{ {rules} }}" for place, rules in enumerate(chains))
    return f"table inet loss {{\n{named}\n}}"


def real(name, visits, settings):
    """Yield the loss findings of real visits, all behind one practice modem."""
    _, losses, hook = REAL[name]
    # Loss next to nothing keeps the relay passing single packets, as it does where it loses some.
    spec = LineSpec(rtt_ms=12, seed=31, hops=2, **(losses or {"loss_up": 1e-9}))
    environment = visit_environment(os.environ)
    with PracticeNetwork(spec) as network, tempfile.TemporaryDirectory() as folder:
        if hook:
            network.host(hook[0]).run(["nft", rule(*hook[1:])], timeout=10, check=True)
        ports = (f"--port={SERVER_PORT}", f"--reflector-port={SERVER_PORT}")
        serve = [sys.executable, "-m", "agent", "serve", f"--host={network.server.address}", *ports]
        server = network.server.popen(serve, env=environment, plain=True)
        server.stderr.readline()
        left_out = [f"--without={kind}" for kind in ("dns", "http", "throughput")]
        visit = PracticeVisit(
            settings=settings,
            reports=Path(folder),
            tier=TIER,
            access=None,
            arguments=("--plan=standard", "--quiet", *left_out),
        )
        text = settings_text(settings_for_line(settings, network.addresses, translated=True))
        for _ in range(visits):
            process = network.laptop.popen(
                visit_command(network, visit),
                stdout=subprocess.DEVNULL,
                stderr=None,
                env=environment,
                plain=True,
                files={"practice.toml": text},
            )
            process.wait()
        for path in sorted(Path(folder).glob("*/record.json")):
            findings = json.loads(path.read_text())["diagnosis"]["findings"]
            yield [
                (f["segment"], f["values"].get("direction"), f["confidence"])
                for f in findings
                if f["code"].startswith("loss-")
            ]


def main():
    """Print the table; exit 1 where a bar is missed."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--real", nargs="*", choices=REAL, default=[])
    parser.add_argument("--visits", type=int, default=0, help="100 simulated, 20 real")
    asked = parser.parse_args()
    settings = load(None, {}, {}).settings
    rows = []
    for name in asked.real:
        found = list(real(name, asked.visits or 20, settings))
        rows.append(row(f"real: {name}", REAL[name][0], found))
    if not asked.real:
        for place, (name, line) in enumerate(LINES.items()):
            seeds = range(asked.visits or 100)
            found = [simulated(line, settings, f"{place} {seed}") for seed in seeds]
            rows.append(row(name, line, found))
    table(HEAD, [cells for cells, _ in rows])
    return 0 if all(reached for _, reached in rows) else 1


if __name__ == "__main__":
    raise SystemExit(main())
