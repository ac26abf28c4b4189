"""Print what repeated transfers over one practice line find, and how often their interval holds.

Arguments: how many runs of each direction (20), download and upload in Mbit/s (100 20), round trip
in ms (20). The truth is the shaped rate by header arithmetic: a full segment with time stamps is
1448 octets of payload in a frame of 1514 (RFC 6349 §4.1.1, RFC 7323 §3.2).
"""

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


def binomial_tail(held, count, share):
    """Return the probability that no more than `held` of `count` hold, each with `share`."""
    ways = (math.comb(count, k) * share**k * (1 - share) ** (count - k) for k in range(held + 1))
    return math.fsum(ways)


def row(direction, runs, ideal):
    """Return the row of a direction."""
    found = [run["statistics"] for run in runs]
    errors = [100 * (f["goodput_bps"] / ideal - 1) for f in found]
    widths = [50 * (f["high_bps"] - f["low_bps"]) / f["goodput_bps"] for f in found]
    held = sum(f["low_bps"] <= ideal <= f["high_bps"] for f in found)
    single = [100 * (f["single_flow_bps"] / ideal - 1) for f in found if f["single_flow_bps"]]
    ends = [run["observed"]["ended"] for run in runs]
    return (
        direction,
        len(runs),
        f"{statistics.median(errors):+.3f}",
        f"{max(errors, key=abs):+.3f}",
        f"{statistics.stdev(errors):.3f}" if len(runs) > 1 else "-",
        f"{max(widths):.2f}",
        f"{held}/{len(runs)}",
        f"{binomial_tail(held, len(runs), CONFIDENCE):.3f}",
        f"{statistics.median(run['observed']['slice_end_s'][-1] for run in runs):.2f}",
        f"{statistics.median(run['used'] for run in runs) / 1e6:.1f}",
        f"{statistics.median(f['flows'] for f in found):g}",
        f"{statistics.median(single):+.2f}" if single else "-",
        " ".join(f"{ends.count(end)} {end}" for end in sorted(set(ends))),
    )


HEAD = (
    "way", "runs", "error % median", "worst", "sd", "± % most", "held", "P(so few)", "s", "MB",
    "flows", "one flow %", "ended",
)  # fmt: skip


def main():
    """Run both directions over one line and print a row for each."""
    given = [float(a) for a in sys.argv[1:]] + [20, 100, 20, 20][len(sys.argv) - 1 :]
    count, down, up, rtt = int(given[0]), given[1], given[2], given[3]
    os.environ["PYTHONPATH"] = str(ROOT)
    spec = LineSpec(
        seed=3, congestion="reno", down_bps=int(down * 1e6), up_bps=int(up * 1e6), rtt_ms=rtt
    )
    rows = []
    with PracticeNetwork(spec) as network:
        command = [sys.executable, PROGRAM, "serve", network.server.address]
        with network.server.popen(command) as server:
            port = server.stdout.readline().decode().strip()
            for direction in ("down", "up"):
                runs = list(transfers(network, port, direction, count))
                ideal = network.truth()[f"{direction}_bps"] * PAYLOAD / FRAME
                rows.append(row(direction, runs, ideal))
                if os.environ.get("KEEP_RUNS"):
                    Path(os.environ["KEEP_RUNS"] + direction).write_text(json.dumps(runs))
            server.kill()
            server.wait(10)
    table(HEAD, rows)


if __name__ == "__main__":
    main()
