"""Print how often a verdict is wrong on simulated lines whose truth lies around the limit.

    python tests/bench/verdicts.py        2,250 lines for the rate, 1,050 each for delay and loss
    python tests/bench/verdicts.py 0.1      a tenth of them

Every line has a truth: the mean rate of its process, the median of its round trips, its long-run
loss ratio. What a visit would store of it (slices of transfers, columns of probes) runs through the
whole chain as a complaint with nothing else on, and beside it as an installation. A missed rate is
measured a second time where the visit would. Wrong is `meets` where the truth misses the limit and
`below` where it keeps it; the share is of all lines, with its 95 % interval (Wilson).

Rate and delay lie within 3 % of the limit. Loss lies between a third and three times of it, evenly
by its logarithm: 800 probes cannot tell 3 % of half a percent. Where losses come in runs, a line
can lose more than its limit and the visit meet no run at all: what it then sees is what a sound
line shows, and no rule can tell the two apart. The last line counts such visits.
"""

import math
import random
import sys
import time
from dataclasses import dataclass, replace
from functools import cache
from pathlib import Path

sys.path[:0] = [str(Path(__file__).parents[1]), str(Path(__file__).parents[2])]

import intervals  # noqa: E402 - beside this file
import visits  # noqa: E402 - one folder up
from loss_intervals import simulated  # noqa: E402 - beside this file
from practice_visits import table  # noqa: E402 - beside this file

from agent.assessment.confirm import would_miss  # noqa: E402 - the package is beside
from agent.assessment.model import Verdict  # noqa: E402 - as above
from agent.measurements import Direction, EchoOutcome, Kind, Role  # noqa: E402 - as above
from agent.settings.model import Accept, Layer, LimitSet, Purpose  # noqa: E402 - as above
from agent.stats.proportions import wilson  # noqa: E402 - as above

AROUND = 0.03
SPREAD = 3.0
RULES = {"guarded": Purpose.COMPLAINT, "simple": Purpose.INSTALLATION}
PROBES, SPACING_S = 800, 0.01
LOSS_LIMIT, DELAY_LIMIT_MS = 0.005, 20.0
RATE_LINES = ("steady", "steady with losses", "auto-regressive", "wobbling ±10 %",
              "cross traffic")  # fmt: skip
EACH = {"rate": 450, "delay": 350, "loss": 350}


@dataclass(frozen=True, slots=True, kw_only=True)
class Judged:
    """One line: whether its truth keeps the limit, the verdicts, whether a loss was seen."""

    keeps: bool
    verdicts: dict
    seen: bool = True


def auto_regressive(rng, tie=0.9, spread=0.04):
    """A rate that changes every 0.1 s and resembles the one before: AR(1), ± 4 % (one sigma)."""
    mean, off = 12.5e6, rng.gauss(0, spread)
    pieces = []
    for number in range(130):
        pieces.append(((number + 1) * 0.1, mean * (1 + off)))
        off = tie * off + rng.gauss(0, spread * math.sqrt(1 - tie * tie))
    return intervals.Line(pieces=pieces, mean=mean, piece=22 * 1448)


MAKERS = {**intervals.LINES, "auto-regressive": auto_regressive}


@cache
def rules_for(purpose):
    """The settings in which only what this table is about has a limit."""
    settings = visits.settings()
    kept = {
        "rate": LimitSet(),
        "delay": LimitSet(),
        "loss": LimitSet(server_loss=visits.with_limits().limits["unknown"].server_loss),
    }[purpose]
    return settings.model_copy(update={"limits": dict.fromkeys(settings.limits, kept)})


def judged(about, measurements, tier, rule):
    """Return the assessment of a visit of which nothing else was needed."""
    return visits.judge(
        measurements, sold=tier, plan=plan(), rules=rules_for(about), purpose=RULES[rule]
    ).assessment


@cache
def plan():
    """The standard plan, less what a simulated line has nothing of."""
    steps = (Kind.LINK, Kind.LEASE, Kind.DELAY, Kind.THROUGHPUT)
    return visits.pick_plan(visits.settings(), "standard").model_copy(update={"steps": steps})


def port():
    """A port that hides no rate."""
    return visits.link(speed_bps=10_000_000_000)


def transfer(line, rng, number):
    """Return one transfer of a line as a measurement."""
    _, observed = intervals.simulate(line, rng)
    observed = replace(observed, header_bytes=52, mtu_bytes=1500)
    name = "throughput-down" + (f"-{number}" if number > 1 else "")
    return visits.measured(
        Kind.THROUGHPUT, Role.SERVER, observed, id=name, direction=Direction.DOWN
    )


def again(make, rng, mean):
    """Return the same line at a later time: its process begun anew."""
    while True:
        line = make(rng)
        if line.mean == mean:
            return line


def rate_line(kind, seed):
    """Judge one line by its rate; the limit lies within 3 % of what it truly carries."""
    rng = random.Random(f"rate {kind} {seed}")
    make = MAKERS[kind]
    line = make(rng)
    truth = line.mean * 8
    limit = round(truth / (1 + rng.uniform(-AROUND, AROUND)))
    tier = visits.tier(
        down_bps=limit, up_bps=10_000_000, layer=Layer.PAYLOAD, accept=Accept(down=1.0, up=1.0)
    )
    base = [port(), visits.lease(), visits.up(), transfer(line, rng, 1)]
    second = None
    verdicts = {}
    for rule in RULES:
        found = judged("rate", base, tier, rule)
        if would_miss(found, Direction.DOWN):
            second = second or transfer(again(make, rng, line.mean), rng, 2)
            found = judged("rate", [*base, second], tier, rule)
        verdicts[rule] = found.verdict
    return Judged(keeps=truth >= limit, verdicts=verdicts)


def steady_trips(rng, count):
    """Independent waits, exponential."""
    return [rng.expovariate(1.0) for _ in range(count)], math.log(2)


def tied_trips(rng, count, tie=0.9):
    """Waits that resemble the one before: AR(1), normal."""
    off, found = rng.gauss(0, 1), []
    for _ in range(count):
        found.append(off)
        off = tie * off + rng.gauss(0, math.sqrt(1 - tie * tie))
    return [3 + value for value in found], 3.0


def crossed_trips(rng, count, busy_share=0.4):
    """Waits behind other traffic, on and off for 0.1 s and more."""
    busy, found = rng.random() < busy_share, []
    for _ in range(count):
        found.append(rng.expovariate(1 / 3) + 1 if busy else rng.expovariate(2))
        leave = 0.1 if busy else 0.1 * busy_share / (1 - busy_share)
        busy = busy != (rng.random() < leave)
    return found, crossed_median(busy_share)


@cache
def crossed_median(busy_share):
    """Return the median of the mixture, by halving."""
    low, high = 0.0, 20.0
    for _ in range(60):
        at = (low + high) / 2
        idle = 1 - math.exp(-2 * at)
        busy = 1 - math.exp(-(at - 1) / 3) if at > 1 else 0.0
        below = busy_share * busy + (1 - busy_share) * idle
        low, high = (at, high) if below < 0.5 else (low, at)
    return low


TRIPS = {"independent": steady_trips, "auto-regressive": tied_trips, "cross traffic": crossed_trips}


def delay_line(kind, seed):
    """Judge one line by the delay that its tier promises."""
    rng = random.Random(f"delay {kind} {seed}")
    waits, middle = TRIPS[kind](rng, PROBES)
    truth = DELAY_LIMIT_MS * (1 + rng.uniform(-AROUND, AROUND))
    series = visits.server(sent=PROBES)
    trips = tuple(truth - middle + wait for wait in waits)
    series = replace(series, observed=replace(series.observed, rtt_ms=trips))
    tier = visits.tier(delay_ms=DELAY_LIMIT_MS)
    return sold_line("delay", series, tier, truth <= DELAY_LIMIT_MS)


RUNS = {"losses alone": 1, "in runs of 3": 3, "in runs of 8": 8}


def loss_line(kind, seed):
    """Judge one line by its loss, on the way up or down."""
    rng = random.Random(f"loss {kind} {seed}")
    truth = LOSS_LIMIT * SPREAD ** rng.uniform(-1, 1)
    lost = simulated(truth, RUNS[kind], rng)[:PROBES]
    up = rng.random() < 0.5
    series = visits.server(sent=PROBES)
    observed = series.observed
    observed = replace(
        observed,
        rtt_ms=tuple(
            None if gone else rtt for gone, rtt in zip(lost, observed.rtt_ms, strict=True)
        ),
        outcome=tuple(EchoOutcome.LOST if gone else EchoOutcome.ANSWERED for gone in lost),
        copies=tuple(int(not gone) for gone in lost),
        arrival_order=tuple(n for n, gone in enumerate(lost) if not gone),
        far_received=tuple(not (gone and up) for gone in lost),
    )
    tier = visits.tier(loss_ratio=LOSS_LIMIT)
    found = sold_line("loss", replace(series, observed=observed), tier, truth <= LOSS_LIMIT)
    return replace(found, seen=any(lost))


def sold_line(about, series, tier, keeps):
    """Judge a line that carries its rates by one series to the server."""
    measurements = [port(), visits.lease(), series, visits.down(), visits.up()]
    verdicts = {rule: judged(about, measurements, tier, rule).verdict for rule in RULES}
    return Judged(keeps=keeps, verdicts=verdicts)


TABLES = {
    "rate": (rate_line, RATE_LINES),
    "delay": (delay_line, tuple(TRIPS)),
    "loss": (loss_line, tuple(RUNS)),
}
HEAD = ("line", "rule", "n", "wrong meets %", "wrong below %", "not proven %")


def share(lines, holds):
    """Return a share in percent with its 95 % interval."""
    count = sum(map(holds, lines))
    low, high = wilson(count, len(lines))
    return f"{100 * count / len(lines):.1f} ({100 * low:.1f}-{100 * high:.1f})"


def wrongly_met(line, rule):
    """Tell whether a line was said to keep a limit that it truly misses."""
    return line.verdicts[rule] is Verdict.MEETS and not line.keeps


def row(name, rule, lines):
    """Return one row of a table."""
    return (
        name,
        rule,
        len(lines),
        share(lines, lambda line: wrongly_met(line, rule)),
        share(lines, lambda line: line.verdicts[rule] is Verdict.BELOW and line.keeps),
        share(lines, lambda line: line.verdicts[rule] is Verdict.NOT_PROVEN),
    )


def lines_of(about, kind, count):
    """Return so many judged lines of a kind, the same for the same count."""
    make, _ = TABLES[about]
    return [make(kind, number) for number in range(count)]


def main():
    """Print the three tables."""
    part = float(sys.argv[1]) if len(sys.argv) > 1 else 1.0
    began = time.monotonic()
    for about, (_, kinds) in TABLES.items():
        found = {kind: lines_of(about, kind, max(1, round(EACH[about] * part))) for kind in kinds}
        found["all"] = [line for lines in found.values() for line in lines]
        sys.stdout.write(f"\n{about}\n")
        table(HEAD, [row(kind, rule, found[kind]) for rule in RULES for kind in found])
    wrong = [line for line in found["all"] if wrongly_met(line, "guarded")]
    unseen = sum(not line.seen for line in wrong)
    sys.stdout.write(f"wrong meets by loss, guarded: {len(wrong)}, no loss seen in {unseen}\n")
    sys.stdout.write(f"in {time.monotonic() - began:.0f} s\n")


if __name__ == "__main__":
    main()
