"""Print what repeated transfers over one practice line find, and how often their interval holds.

Arguments: how many runs of each direction (20), download and upload in Mbit/s (100 20), round trip
in ms (20). The truth is the shaped rate by header arithmetic: a full segment with time stamps is
1448 octets of payload in a frame of 1514 (RFC 6349 §4.1.1, RFC 7323 §3.2). `--save` appends each
run to a file, one JSON document a line; `--judge` prints all that such a file holds, a row for each
line and direction and one for all together.
"""

import argparse
import json
import math
import os
import statistics
import sys
from pathlib import Path

from practice_visits import table

from agent.practice.line import LineSpec
from agent.practice.network import PracticeNetwork

ROOT = Path(__file__).resolve().parents[2]
PROGRAM = str(ROOT / "tests" / "probes" / "lab_transfer.py")
FRAME, PAYLOAD = 1514, 1448
LONGEST_S = "10"
CONFIDENCE = 0.95


def transfers(network, port, direction, count):
    """Return so many transfers of a direction, one after the other, as documents."""
    where = [network.server.address, port, network.interface]
    command = [sys.executable, PROGRAM, "measure", *where, direction, LONGEST_S]
    for _ in range(count):
        done = network.laptop.run(command, timeout=60, plain=True)
        if done.returncode:
            raise SystemExit(done.stderr)
        yield json.loads(done.stdout)


def summary(run, line, direction, ideal_bps):
    """Return what is kept of a run: the figures that a row is made of."""
    found, observed = run["statistics"], run["observed"]
    names = ("goodput_bps", "low_bps", "high_bps", "single_flow_bps", "flows")
    return {
        "line": line,
        "direction": direction,
        "ideal_bps": ideal_bps,
        **{name: found[name] for name in names},
        "seconds": observed["slice_end_s"][-1],
        "bytes": run["used"],
        "ended": observed["ended"],
    }


def binomial_tail(held, count, share):
    """Return the probability that no more than `held` of `count` hold, each with `share`."""
    ways = (math.comb(count, k) * share**k * (1 - share) ** (count - k) for k in range(held + 1))
    return math.fsum(ways)


def holds(run):
    """Return whether the interval of a run holds the shaped rate; one without an interval not."""
    return run["low_bps"] is not None and run["low_bps"] <= run["ideal_bps"] <= run["high_bps"]


def error(run, name="goodput_bps"):
    """Return how far a figure of a run is off the shaped rate, percent."""
    return 100 * (run[name] / run["ideal_bps"] - 1)


def width(run):
    """Return half the interval of a run, percent of its figure."""
    return 50 * (run["high_bps"] - run["low_bps"]) / run["goodput_bps"]


def row(line, direction, runs):
    """Return the row of some runs of at least one."""
    errors = [error(run) for run in runs]
    held = sum(map(holds, runs))
    single = [error(run, "single_flow_bps") for run in runs if run["single_flow_bps"]]
    ends = [run["ended"] for run in runs]
    return (
        line,
        direction,
        len(runs),
        f"{statistics.median(errors):+.3f}",
        f"{max(errors, key=abs):+.3f}",
        f"{statistics.stdev(errors):.3f}" if len(runs) > 1 else "-",
        f"{max((width(run) for run in runs if run['low_bps'] is not None), default=math.nan):.2f}",
        f"{held}/{len(runs)}",
        f"{binomial_tail(held, len(runs), CONFIDENCE):.3f}",
        f"{statistics.median(run['seconds'] for run in runs):.2f}",
        f"{statistics.median(run['bytes'] for run in runs) / 1e6:.1f}",
        f"{statistics.median(run['flows'] for run in runs):g}",
        f"{statistics.median(single):+.2f}" if single else "-",
        " ".join(f"{ends.count(end)} {end}" for end in sorted(set(ends))),
    )


HEAD = (
    "Mbit/s, ms", "way", "runs", "error % median", "worst", "sd %", "± % most", "held",
    "P(so few)", "s", "MB", "flows", "one flow %", "ended",
)  # fmt: skip


def judged(runs):
    """Return a row for each line and direction, and one for all where there are several."""
    kinds = sorted({(run["line"], run["direction"]) for run in runs})
    chosen = {k: [r for r in runs if (r["line"], r["direction"]) == k] for k in kinds}
    rows = [row(*kind, some) for kind, some in chosen.items()]
    return [*rows, row("all", "both", runs)] if len(rows) > 1 else rows


def measured(given):
    """Yield the summary of each run of both directions over one line."""
    line = f"{given.down:g}/{given.up:g} {given.rtt:g}"
    spec = LineSpec(
        seed=3,
        congestion="reno",
        down_bps=int(given.down * 1e6),
        up_bps=int(given.up * 1e6),
        rtt_ms=given.rtt,
    )
    with PracticeNetwork(spec) as network:
        command = [sys.executable, PROGRAM, "serve", network.server.address]
        with network.server.popen(command) as server:
            try:
                port = server.stdout.readline().decode().strip()
                for direction in ("down", "up"):
                    ideal_bps = network.truth()[f"{direction}_bps"] * PAYLOAD / FRAME
                    for run in transfers(network, port, direction, given.count):
                        yield summary(run, line, direction, ideal_bps)
            finally:
                server.kill()
                server.wait(10)


def arguments():
    """Return what the command line asks for."""
    asked = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    asked.add_argument("count", nargs="?", type=int, default=20)
    for name, usual in (("down", 100), ("up", 20), ("rtt", 20)):
        asked.add_argument(name, nargs="?", type=float, default=usual)
    asked.add_argument("--save", type=Path, metavar="FILE")
    asked.add_argument("--judge", type=Path, metavar="FILE")
    return asked.parse_args()


def main():
    """Measure and print, or print what was saved."""
    given = arguments()
    if given.judge:
        runs = [json.loads(text) for text in given.judge.read_text().splitlines()]
    else:
        os.environ["PYTHONPATH"] = str(ROOT)
        runs = []
        for run in measured(given):
            runs.append(run)
            if given.save:
                with given.save.open("a") as kept:
                    kept.write(json.dumps(run) + "\n")
    table(HEAD, judged(runs))


if __name__ == "__main__":
    main()
