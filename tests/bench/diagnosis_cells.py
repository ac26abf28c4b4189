"""The cells of the confusion matrix: which faults are played on which lines, and their visits.

A seed draws the whole line: product, round trip, number of hops, routers that keep silent, depth
of the queue, what else the household does, addresses and chance. A cell is played once and its
record kept, so that it can be judged again by other rules without a network.
"""

from __future__ import annotations

import json
import random
import subprocess
import sys
import tempfile
from dataclasses import asdict, dataclass, replace
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
sys.path[:0] = [str(ROOT)]

from agent.practice import (  # noqa: E402
    faults_address,
    faults_advertised,
    faults_families,
    faults_more,
    faults_more_home,
    faults_naming,
    faults_offers,
    faults_reach,
    faults_web,
)
from agent.practice.faults import CATALOGUE, effect_of, find_fault  # noqa: E402
from agent.practice.homes import AT_MODEM  # noqa: E402
from agent.practice.line import FaultChoice, Severity  # noqa: E402
from agent.practice.line_settings import settings_for_line  # noqa: E402
from agent.practice.network import PracticeNetwork  # noqa: E402
from agent.practice.runner import PracticeVisit, run_practice  # noqa: E402
from agent.practice.tiers import line_for  # noqa: E402
from agent.record.model import PracticeTruth  # noqa: E402
from agent.record.store import add_practice  # noqa: E402
from agent.settings.choose import pick_tier  # noqa: E402
from agent.settings.loader import load  # noqa: E402

PRODUCTS = ("Tern Bay 25/5", "Tern Bay 50/10", "Tern Bay 100/20", "Tern Bay Air 60/10")
FAST = ("Tern Bay 300/30", "Tern Bay 250/100")
HELD_OUT = frozenset(f.name for f in (*faults_more.FAULTS, *faults_more_home.FAULTS))
HEALTHY = "healthy"
SERVICES = frozenset(
    fault.name
    for area in (
        faults_address,
        faults_advertised,
        faults_families,
        faults_naming,
        faults_offers,
        faults_reach,
        faults_web,
    )
    for fault in area.FAULTS
)
"""Faults of addresses, names, ports and pages."""


PAIRS = (
    ("no-lease", "little-memory"),
    ("dead-dns", "lossy-up"),
    ("lossy-line", "slow-dns"),
    ("lossy-core", "rewriting-dns"),
    ("wrong-profile", "dns-servfail"),
    ("slow-line", "one-site-down"),
    ("lossy-runs", "port-blocked-home"),
    ("detour", "slow-dns"),
    ("busy-edge", "rewriting-dns"),
    ("line-drops", "one-site-down"),
    ("server-slow", "slow-dns"),
    ("laptop-wireless", "slow-site"),
)
"""Two faults at once; the first is the worse of the two: nearer, or what stops more."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Cell:
    """One visit to be played: its faults (none on a healthy line), how hard, and the seed."""

    faults: tuple[str, ...]
    severity: str
    seed: int

    @property
    def name(self) -> str:
        """Return the folder that keeps the visit."""
        return f"{'+'.join(self.faults) or HEALTHY}-{self.severity}-{self.seed}"


def alone(names, seeds):
    """Return the cells of single faults: every severity that differs, every seed."""
    return [
        Cell(faults=(name,), severity=severity, seed=seed)
        for name in names
        for severity in severities(name)
        for seed in seeds
    ]


def severities(name):
    """Return the severities of a fault that differ from one another."""
    effects = find_fault(name).effects
    kept = []
    for severity in (Severity.MEDIUM, Severity.LIGHT, Severity.SEVERE):
        if effects[severity] not in [effects[one] for one in kept]:
            kept.append(severity)
    return [one.value for one in sorted(kept, key=list(Severity).index)]


def in_pairs(seeds):
    """Return the cells of the chosen pairs."""
    known = {fault.name for fault in CATALOGUE}
    return [
        Cell(faults=pair, severity=Severity.MEDIUM.value, seed=seed)
        for pair in PAIRS
        if set(pair) <= known
        for seed in seeds
    ]


def healthy(seeds):
    """Return the cells of sound lines."""
    return [Cell(faults=(), severity="none", seed=seed) for seed in seeds]


def line_of(cell):
    """Return product and line of a cell: all of it drawn by the seed."""
    settings = load(None, {}, {}).settings
    draw = random.Random(f"line {cell.seed} {'+'.join(cell.faults)}")
    chosen = [FaultChoice(name=name, severity=Severity(cell.severity)) for name in cell.faults]
    wanted = max((effect_of(one).least_down_bps or 0 for one in chosen), default=0)
    offered = [pick_tier(settings, name) for name in (PRODUCTS if not wanted else FAST)]
    tier = draw.choice([one for one in offered if one.down_bps >= wanted])
    rtt_ms, hops = draw.uniform(4, 24), draw.randint(1, 5)
    line = line_for(tier, rtt_ms=round(rtt_ms, 1), seed=cell.seed, catalogue=settings.tiers)
    quiet = tuple(at for at in range(3, hops + 3) if draw.random() < 0.25)
    at_modem = any(effect_of(one).home == AT_MODEM for one in chosen)
    quiet = tuple(at for at in quiet if at < hops + 3 - at_modem)
    background = draw.choice((None, None, Severity.LIGHT, Severity.MEDIUM))
    if background and not any(map(_strikes, chosen)):
        chosen.append(FaultChoice(name="household-at-rest", severity=background))
    return tier, replace(
        line,
        hops=hops,
        buffer_ms=round(draw.uniform(80, 160)),
        path=replace(line.path, silent=quiet),
        faults=tuple(chosen),
    )


def plan_of(cell):
    """Return the plan of a cell's visit: what no rate can show is told without filling the line."""
    names = set(cell.faults)
    return "no-fill" if names and names <= SERVICES else "standard"


def _strikes(choice):
    """Tell whether a fault acts on the home or its hosts, where a further device could disturb."""
    effect = effect_of(choice)
    return any((effect.prepare, effect.strike, effect.home, effect.silent, effect.handover))


def settings_of(cell):
    """Return the settings that the visit of a cell was made with."""
    network = PracticeNetwork(line_of(cell)[1])
    return settings_for_line(
        load(None, {}, {}).settings,
        network.addresses,
        translated=True,
        addresses_6=network.addresses_6 if network.struck.ipv6 else None,
        server=network.server_address,
    )


def play(cell, folder):
    """Play a cell in a process of its own and keep its record below the folder."""
    kept = Path(folder) / cell.name
    if (kept / "record.json").exists():
        return
    kept.mkdir(parents=True, exist_ok=True)
    (kept / "cell.json").write_text(json.dumps(asdict(cell)))
    command = [sys.executable, __file__, json.dumps(asdict(cell)), str(kept)]
    done = subprocess.run(command, cwd=ROOT, capture_output=True, text=True, check=False)
    (kept / "said.txt").write_text(done.stdout + done.stderr)


def cell_from(text):
    """Return the cell in a JSON text."""
    told = json.loads(text)
    return Cell(**{**told, "faults": tuple(told["faults"])})


def main():
    """Play the one cell of the command line: its JSON text and where to keep the record."""
    cell, kept = cell_from(sys.argv[1]), Path(sys.argv[2])
    tier, line = line_of(cell)
    with tempfile.TemporaryDirectory() as folder:
        visit = PracticeVisit(
            settings=load(None, {}, {}).settings,
            reports=Path(folder),
            tier=tier.name,
            access=tier.access.value,
            arguments=("--json", "--quiet", f"--plan={plan_of(cell)}"),
            output=subprocess.DEVNULL,
            probes=any(find_fault(name).probe for name in cell.faults),
        )
        done = run_practice(line, visit, keep=_keep, note=print)
        for record in done.records:
            (kept / "record.json").write_bytes(record.read_bytes())


def _keep(path, truth):
    add_practice(
        path, PracticeTruth(fault=truth.fault, severity=truth.severity, truth=dict(truth.values))
    )


if __name__ == "__main__":
    main()
