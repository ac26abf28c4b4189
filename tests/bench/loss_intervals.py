"""Print how often the interval of a loss ratio holds the truth, and how wide it is.

    python tests/bench/loss_intervals.py                       simulated series (2,000 a cell)
    python tests/bench/loss_intervals.py --real 10 --save F    series over practice lines, kept in F
    python tests/bench/loss_intervals.py --judge F             what F holds, by binomial test

Each series is of 1,000 probes. Losses are those of a two-state chain (Gilbert 1960) begun at its
long-run state. "stated" is what a record states: Wilson's where none was lost. "above" is the share
of series whose upper bound is under the truth. A real series runs over a practice line of its own
(another network, another seed) with losses one way; its truth is what the line is set to.
"""

import argparse
import json
import math
import os
import random
import signal
import statistics
import sys
from pathlib import Path
from subprocess import PIPE

ROOT = Path(__file__).resolve().parents[2]
sys.path[:0] = [str(ROOT)]

from agent.practice.line import LineSpec  # noqa: E402 - the package is beside
from agent.practice.network import PracticeNetwork  # noqa: E402
from agent.stats.bursts import bursty_interval, stated_interval  # noqa: E402
from agent.stats.proportions import wilson  # noqa: E402

LAB = str(ROOT / "tests" / "probes" / "lab_stamp.py")
PORT, COUNT, INTERVAL_S = 8642, 1_000, 0.005
MOST_GRANTS = 5
SIMULATED = [(loss, run) for loss in (0.0, 0.001, 0.01, 0.05, 0.2) for run in (1, 3, 8)]
REAL = [(loss, run) for run in (1, 3, 8) for loss in (0.01, 0.05, 0.2)]
MEANS = ("wilson", "bursty", "stated")


def simulated(loss, run, draw):
    """Return one series: for each probe whether it is lost."""
    length = max(run, 1 / (1 - loss))
    stay, enter = 1 - 1 / length, loss / (length * (1 - loss))
    losing, series = draw.random() < loss, []
    for _ in range(COUNT):
        series.append(losing)
        losing = draw.random() < (stay if losing else enter)
    return series


def intervals(lost):
    """Return the interval of a series by each means."""
    plain = wilson(sum(lost), len(lost))
    return dict(zip(MEANS, (plain, bursty_interval(lost), stated_interval(lost)), strict=True))


def print_table(head, rows):
    """Print rows under a head."""
    for cells in (head, *rows):
        print("".join(f"{cell:>10}" for cell in cells))


def columns(truth, found):
    """Return coverage, misses above and mean width of some intervals, percent."""
    of = len(found)
    held = sum(low <= truth <= high for low, high in found) / of
    above = sum(high < truth for _, high in found) / of
    width = statistics.mean(high - low for low, high in found)
    return f"{held:.1%}", f"{above:.1%}", f"{width:.2%}"


def simulate(count, seed):
    """Print the table of simulated series."""
    rows = []
    for loss, run in SIMULATED:
        draw = random.Random(f"{seed} {loss} {run}")
        found = [intervals(simulated(loss, run, draw)) for _ in range(count)]
        cells = (columns(loss, [one[means] for one in found]) for means in MEANS)
        rows.append((f"{loss:.1%}", run, *(cell for three in cells for cell in three)))
    heads = (name for means in MEANS for name in (means, "above", "width"))
    print_table(("loss", "run", *heads), rows)


def real_series(loss, run, seed):
    """Return one series over a practice line: for each probe whether it was lost.

    None where grant or report did not come through so lossy a line.
    """
    spec = LineSpec(
        down_bps=100_000_000, up_bps=20_000_000, rtt_ms=10 + seed % 3 * 10, loss_up=loss,
        burst=run, seed=seed,
    )  # fmt: skip
    with PracticeNetwork(spec) as network:
        argv = [sys.executable, "-m", "agent", "serve", "--host", network.server.address]
        with network.server.popen([*argv, "--port", str(PORT), "--reflector-port", str(PORT)]) as s:
            while b"Serving" not in s.stderr.readline():
                pass
            lab = [sys.executable, LAB, network.server.address, str(PORT), str(COUNT)]
            with network.laptop.popen([*lab, str(INTERVAL_S), "plain"], stdin=PIPE) as process:
                if not process.stdout.readline():
                    return None
                process.stdin.write(b"\n")
                process.stdout.readline()
                process.stdin.write(b"\n")
                found = process.stdout.readline()
            s.send_signal(signal.SIGINT)
            s.wait(10)
    return [o != "answered" for o in json.loads(found)["outcome"]] if found else None


def series_of(place):
    """Return the series of a place with its cell, on another network until its grant came."""
    loss, run = REAL[place % len(REAL)]
    for attempt in range(MOST_GRANTS):
        lost = real_series(loss, run, 1_000 + place + 10_000 * attempt)
        if lost is not None:
            return {"place": place, "loss": loss, "run": run, "series": _text(lost)}
    raise SystemExit(f"No grant came through a line that loses {loss:.0%}.")


def _text(lost):
    return "".join("x" if one else "." for one in lost)


def measure(count, first, save):
    """Measure so many series, the cells in turn; return them."""
    os.environ["PYTHONPATH"] = str(ROOT)
    done = []
    for place in range(first, first + count):
        done.append(series_of(place))
        if save:
            with save.open("a") as kept:
                kept.write(json.dumps(done[-1]) + "\n")
    return done


def binomial_tail(held, count, share=0.95):
    """Return the probability that no more than `held` of `count` hold, each with `share`."""
    ways = (math.comb(count, k) * share**k * (1 - share) ** (count - k) for k in range(held + 1))
    return math.fsum(ways)


def judge(runs):
    """Print how many of the kept series' intervals hold the truth."""
    cells = sorted({(one["loss"], one["run"]) for one in runs})
    groups = [(f"{loss:.1%}", run, [o for o in runs if (o["loss"], o["run"]) == (loss, run)])
              for loss, run in cells]  # fmt: skip
    rows = [_row(*group) for group in (*groups, ("all", "", runs))]
    print_table(("loss", "run", "series", "lost", *_heads()), rows)


def _heads():
    return (name for means in MEANS for name in (means, "P(so few)", "width"))


def _row(loss, run, runs):
    found = [(one["loss"], intervals([c == "x" for c in one["series"]])) for one in runs]
    lost = statistics.mean(one["series"].count("x") / len(one["series"]) for one in runs)
    cells = []
    for means in MEANS:
        held = sum(one[means][0] <= truth <= one[means][1] for truth, one in found)
        width = statistics.mean(one[means][1] - one[means][0] for _, one in found)
        cells += [f"{held}/{len(runs)}", f"{binomial_tail(held, len(runs)):.3f}", f"{width:.2%}"]
    return (loss, run, len(runs), f"{lost:.2%}", *cells)


def main():
    """Simulate, measure or judge, as asked."""
    asked = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    asked.add_argument("--series", type=int, default=2_000)
    asked.add_argument("--seed", type=int, default=4)
    asked.add_argument("--real", type=int, metavar="N")
    asked.add_argument("--first", type=int, default=0, help="place of the first real series")
    asked.add_argument("--save", type=Path, metavar="FILE")
    asked.add_argument("--judge", type=Path, metavar="FILE")
    given = asked.parse_args()
    if given.judge:
        judge([json.loads(line) for line in given.judge.read_text().splitlines()])
    elif given.real:
        judge(measure(given.real, given.first, given.save))
    else:
        simulate(given.series, given.seed)


if __name__ == "__main__":
    main()
