"""Print what each fact of fitness makes of a missed and of a passed criterion.

    python tests/bench/fitness.py             every fact of the table
    python tests/bench/fitness.py hidden_hop  those named

Each fact comes of a real visit on the practice network. `played` says that the laptop's own system
showed it, `told` that the visit was told it at the facts port because no kernel can play it,
`stated` that a person says it. The same observations are judged twice: against the tier that the
line carries, and against one that it does not (or a limit that it cannot keep).
"""

import argparse
import os
import subprocess
import sys
import tempfile
from contextlib import contextmanager
from dataclasses import dataclass, field, replace
from functools import cache
from pathlib import Path

from practice_visits import practise, table

sys.path[:0] = [str(Path(__file__).parents[2])]

from agent.assessment.model import Verdict  # noqa: E402 - the package is beside
from agent.measurements import Kind, LaptopCheck, LinkFacts  # noqa: E402 - as above
from agent.record.seal import opened_of  # noqa: E402 - as above
from agent.record.typed import record_of  # noqa: E402 - as above
from agent.session.rejudge import judged_anew  # noqa: E402 - as above
from agent.settings.loader import load  # noqa: E402 - as above
from agent.settings.model import Fitness  # noqa: E402 - as above

SOLD = "Tern Bay 100/20"
BRIEF = """
[[plans]]
name = "brief"
steps = ["link", "lease", "dns", "delay", "path", "http", "throughput"]
[plans.server_echo]
count = 800
interval_s = 0.004
[plans.near_echo]
count = 200
interval_s = 0.016
[plans.throughput]
mode = "fixed"
seconds = 2.0
"""
BUSY = "while True: pass"
RATE, DELAY, TOTAL = "throughput-down", "server-delay-median", "web-total"
PLAYED, TOLD, STATED = "played", "told", "stated"
HEAD = ("fact", "how", "by", "seen", "missed", "reason", "verdict", "passed", "verdict", "first")


@dataclass(frozen=True, kw_only=True)
class Row:
    """How a fact comes about: a fault, or a change of what a sound visit stated or was told.

    `factor` makes of the tier one that is missed, `outcomes` are what a miss and a pass must
    become; `missed` and `passed` are the criteria that are looked at.
    """

    how: str
    fault: str | None = None
    change: object = None
    busy: bool = False
    factor: float = 4.0
    missed: str = RATE
    passed: str = RATE
    outcomes: tuple = field(default=(Verdict.NOT_PROVEN, Verdict.MEETS))


NEVER = (Verdict.NOT_PROVEN, Verdict.NOT_PROVEN)
NOTED = (Verdict.BELOW, Verdict.MEETS)


def others_unknown(record):
    """Return the record of a visit in which nobody said what else is on."""
    return replace(record, visit=replace(record.visit, nothing_else_on=None))


def never_tried(record):
    """Return the record of a visit on a system where the program was never tried."""
    told = tuple(replace(c, unverified_system="Windows") for c in record.conditions)
    return replace(record, conditions=told)


def weak_check(record):
    """Return the record of a visit of a laptop that carried 90 Mbit/s in its own check."""
    link = next(m.measurement.observed for m in record.measured if is_link(m))
    check = LaptopCheck(
        device_id="bench",
        checked="2026-02-20T09:00:00+00:00",
        interface=link.interface,
        medium=link.medium,
        speed_bps=link.speed_bps,
        bus_bps=link.bus_bps,
        down_bps=90e6,
        up_bps=90e6,
        age_days=10.0,
    )
    return replace(record, agent=replace(record.agent, laptop_check=check))


def with_port(**told):
    """Return what makes of a record one whose port was told to be so; the cable carries the tier.

    The faults slow-port and slow-bus limit the cable too, and then nothing passes.
    """

    def change(record):
        conditions = tuple(replace(c, **told) for c in record.conditions)
        measured = tuple(ported(one, told) if is_link(one) else one for one in record.measured)
        return replace(record, conditions=conditions, measured=measured)

    return change


def ported(one, told):
    """Return a measured port with other facts."""
    observed = replace(one.measurement.observed, **told)
    return replace(one, measurement=replace(one.measurement, observed=observed))


def is_link(one):
    """Tell whether a measurement is the port's."""
    return one.measurement.kind is Kind.LINK and isinstance(one.measurement.observed, LinkFacts)


ROWS = {
    "wireless": Row(how=TOLD, fault="laptop-wireless"),
    "half_duplex": Row(how=TOLD, fault="half-duplex"),
    "tunnel": Row(how=PLAYED, fault="tunnel", outcomes=NEVER),
    "another_line": Row(how=PLAYED, fault="second-line", outcomes=NEVER),
    "other_traffic": Row(how=PLAYED, fault="laptop-traffic", factor=1.25),
    "processor_busy": Row(how=PLAYED, busy=True, missed=DELAY, factor=1.01),
    "on_battery": Row(
        how=PLAYED, fault="battery-saver", outcomes=(Verdict.NOT_PROVEN, Verdict.MEETS)
    ),
    "port_ceiling": Row(how=TOLD, change=with_port(speed_bps=10_000_000)),
    "others_on": Row(how=STATED, change=others_unknown),
    "clock_offset": Row(
        how=PLAYED, fault="clock-wrong", missed=TOTAL, passed="dns-unanswered", factor=1.01
    ),
    "unverified_system": Row(how=TOLD, change=never_tried),
    "power_saver": Row(how=PLAYED, fault="battery-saver"),
    "memory_low": Row(how=PLAYED, fault="little-memory"),
    "usb_bus": Row(how=TOLD, change=with_port(speed_bps=1_000_000_000, bus_bps=12_000_000)),
    "hidden_hop": Row(how=PLAYED, fault="hidden-hop"),
    "laptop_check": Row(how=TOLD, change=weak_check),
    "virtual_machine": Row(how=PLAYED, outcomes=NOTED),
}


def main():
    """Print one row for each fact and whether all became what they must."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("names", nargs="*", help="only these facts")
    names = parser.parse_args().names or list(Fitness.model_fields)
    rows = [judged(name, ROWS[name]) for name in names]
    table(HEAD, [shown for shown, _ in rows])
    print()
    print(f"facts as they must be: {sum(right for _, right in rows)} of {len(rows)}")


def judged(name, row):
    """Return the line of the table and whether it is as it must be."""
    record = visited(row.fault, busy=row.busy)
    record = row.change(record) if row.change else record
    missed, passed = judged_anew(record, loaded(row.factor)), judged_anew(record, loaded(1.0))
    miss, kept = criterion(missed, row.missed), criterion(passed, row.passed)
    facts = {fact.name: fact for fact in missed.assessment.fitness}
    seen = "+".join(facts[name].phases or (facts[name].phase,)) if name in facts else "not seen"
    outcomes = (miss.outcome, kept.outcome)
    first = missed.diagnosis.findings[0].code if missed.diagnosis.findings else "-"
    shown = (
        name,
        row.how,
        row.fault or ("every processor kept busy" if row.busy else "sound line"),
        seen,
        f"{row.missed}: {miss.outcome}",
        reason_of(miss),
        missed.assessment.verdict,
        f"{row.passed}: {kept.outcome}",
        passed.assessment.verdict,
        first,
    )
    return shown, name in facts and outcomes == row.outcomes


def reason_of(found):
    """Return why a criterion was not counted, with the fact where one did it."""
    if found.reason is None:
        return "-"
    told = found.reason.values.get("fact") or found.reason.values.get("by")
    return f"{found.reason.code} ({told})" if told else found.reason.code


def criterion(record, name):
    """Return the criterion of a name, the needed one of several."""
    found = [c for c in record.assessment.criteria if c.name == name]
    return min(found, key=lambda c: not c.needed)


def loaded(factor):
    """Return the settings with the tier made larger, and a limit of delay that nothing keeps."""
    own = load(None, {}, {})
    tiers = tuple(
        t.model_copy(update={"down_bps": round(t.down_bps * factor)}) if t.name == SOLD else t
        for t in own.settings.tiers
    )
    limits = own.settings.limits
    if factor != 1.0:
        limits = {access: strict(one) for access, one in limits.items()}
    return replace(own, settings=own.settings.model_copy(update={"tiers": tiers, "limits": limits}))


def strict(limits):
    """Return limits of the delay to the server and of pages that nothing keeps."""
    names = ("server_delay_median", "web_total")
    tight = {name: getattr(limits, name).model_copy(update={"value": 0.001}) for name in names}
    return limits.model_copy(update=tight)


@cache
def visited(fault, *, busy):
    """Return the record of one visit of the brief plan."""
    with tempfile.TemporaryDirectory() as folder, burning(busy):
        settings = Path(folder) / "brief.toml"
        settings.write_text(BRIEF)
        chosen = [fault] if fault else []
        done = practise(*chosen, "--plan=brief", f"--settings={settings}", f"--tier={SOLD}")
    if done.record is None:
        sys.exit(f"{fault}: no record ({done.errors.strip()[-200:]})")
    return record_of(opened_of(done.record), str(fault))


@contextmanager
def burning(busy):
    """Keep every processor busy meanwhile, with programs of our own."""
    count = os.cpu_count() if busy else 0
    burners = [subprocess.Popen([sys.executable, "-c", BUSY]) for _ in range(count or 0)]
    try:
        yield
    finally:
        for one in burners:
            one.kill()
            one.wait()


if __name__ == "__main__":
    main()
