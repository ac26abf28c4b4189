"""Print what the transfer engine can carry, what it costs, and how far its figures are off.

    python tests/bench/throughput.py              ceiling and cost, two namespaces
    python tests/bench/throughput.py --matrix     error against the shaped rate, practice line
    ... --pairs N, --runs N, --only TEXT          less or more of it

Ceiling: interleaved runs of the product and of a bare loop against the same nginx; medians and the
median of the pairs' ratios. General-purpose clients stand beside them as yardsticks (pycurl and
aiohttp come with the extra `bench`). Error: the practice line is shaped in frames of 1514 octets,
of which 1448 are payload with time stamps (RFC 6349 §4.1.1, RFC 7323 §3.2); a bare loop of several
flows runs over the same line right before.
"""

import argparse
import json
import os
import subprocess
import sys
from importlib.util import find_spec
from itertools import product
from pathlib import Path
from statistics import median

from practice_visits import ROOT, table
from two_hosts import FAR, alone, far_host, nginx, serving, shaped

sys.path[:0] = [str(ROOT), str(ROOT / "tests" / "practice")]

CLIENTS = Path(__file__).with_name("throughput_clients.py")
FRAME, PAYLOAD = 1514, 1448
YARDSTICKS = {"httpx": "httpx", "pycurl": "pycurl", "aiohttp": "aiohttp"}
RATES_MBIT = (5, 25, 100, 500, 940, 2500)
ROUND_TRIPS_MS = (0, 20, 100)
LEAST_QUEUE_BITS = 8 * 512_000
"""Room for the first windows of all flows, so that the line's own truth is not its losses."""

SEND_BUFFERS = "net.ipv4.tcp_wmem=4096 16384 67108864"


def client(*arguments):
    """Return the command of one transfer."""
    return [sys.executable, str(CLIENTS), *map(str, arguments)]


def transfer(*arguments):
    """Run one transfer here and return what it prints."""
    environment = os.environ | {"PYTHONPATH": str(ROOT)}
    done = subprocess.run(
        client(*arguments), capture_output=True, text=True, check=True, env=environment, timeout=60
    )
    return json.loads(done.stdout)


def ceiling(pairs, only):
    """Print the product beside a bare loop, plain and under TLS."""
    rows = []
    with far_host() as far, nginx(far) as root:
        for secure, direction in product((False, True), ("down", "up")):
            name = f"{'TLS' if secure else 'plain'} {direction}"
            if only in name:
                where = (direction, FAR, 4, 1.5, root if secure else "-")
                rows.append((name, *compared(pairs, where)))
                print(*rows[-1], flush=True)
        table(("Gbit/s", "ours", "bare loop", "ratio", "ours core", "bare core"), rows)
        print("core: of this process, per Gbit/s\n")
        yardsticks(pairs, root, only)
        cost(far, pairs, only)


def compared(pairs, where):
    """Return median rates of both, the median of their ratios, and their processor cost."""
    runs = [(transfer("ours", *where), transfer("bare", *where)) for _ in range(pairs)]
    mine, bare = ([pair[i] for pair in runs] for i in (0, 1))
    return (
        gbit(mine),
        gbit(bare),
        f"{median(a['bps'] / b['bps'] for a, b in runs):.3f}",
        f"{median(r['core_per_gbit'] for r in mine):.3f}",
        f"{median(r['core_per_gbit'] for r in bare):.3f}",
    )


def gbit(runs):
    """Return the median rate as text."""
    return f"{median(r['bps'] for r in runs) / 1e9:.2f}"


def yardsticks(pairs, root, only):
    """Print what general-purpose clients drain, for scale."""
    rows = []
    for means, secure in product(YARDSTICKS, (False, True)):
        name = f"{means} {'TLS' if secure else 'plain'} down"
        if only not in name:
            continue
        if find_spec(YARDSTICKS[means]) is None:
            rows.append((name, "not installed (extra: bench)", ""))
            continue
        where = ("down", FAR, 4, 1.5, root if secure else "-")
        runs = [transfer(means, *where) for _ in range(max(3, pairs // 3))]
        rows.append((name, gbit(runs), f"{median(r['core_per_gbit'] for r in runs):.3f}"))
    table(("Gbit/s", "rate", "core"), rows)
    print()


def cost(far, pairs, only):
    """Print the processor time of the product at rates that are sold."""
    rows = []
    for mbit, direction in product((500, 940, 2500), ("down", "up")):
        name = f"cost {mbit} {direction}"
        if only not in name:
            continue
        with shaped(far if direction == "down" else [], mbit):
            where = (direction, FAR, 4, 2.0, "-")
            rows.append((mbit, direction, *compared(max(3, pairs // 3), where)))
    head = ("Mbit/s", "way", "ours", "bare loop", "ratio", "ours core per Gbit/s", "bare core")
    table(head, rows)


def matrix(runs, only, congestion, seconds):
    """Print the error of every cell against header arithmetic and against a bare loop."""
    rows, errors = [], []
    for mbit, rtt_ms in product(RATES_MBIT, ROUND_TRIPS_MS):
        if only and f"{mbit}/{rtt_ms}" not in only.split(","):
            continue
        for row, error in cell(mbit, rtt_ms, runs, congestion, seconds):
            rows.append(row)
            errors += error
            print(*row, flush=True)
    head = ("Mbit/s", "rtt ms", "way", "bare %", "ours %", "ours/bare %", "± %", "s", "flows")
    print()
    table((*head, "judged %"), rows)
    if errors:
        print(f"\n{len(errors)} runs: median {median(errors):.3f} %, worst {max(errors):.3f} %")


def cell(mbit, rtt_ms, runs, congestion, seconds):
    """Yield row and judged errors of both directions of one line."""
    from bare import payload_bps

    from agent.practice.host import FOLDER
    from agent.practice.line import LineSpec
    from agent.practice.network import PracticeNetwork

    rate = mbit * 1_000_000
    spec = LineSpec(
        down_bps=rate,
        up_bps=rate,
        provisioned=1.0,
        rtt_ms=rtt_ms,
        congestion=congestion,
        buffer_ms=max(100, 4 * rtt_ms, LEAST_QUEUE_BITS / rate * 1000),
        real_servers=False,
    )
    ideal = rate * PAYLOAD / FRAME
    skip_s = 2.0 + rtt_ms / 50 + 4 * LEAST_QUEUE_BITS / rate
    os.environ["PYTHONPATH"] = str(ROOT)
    with PracticeNetwork(spec) as network:
        for host in (network.server, network.laptop):
            host.run(["sysctl", "-q", "-w", SEND_BUFFERS], timeout=10, check=True)
        address = network.server.address
        with network.server.popen(in_memory(f"{FOLDER}/far", address)):
            until_ready_on(network)
            for way in ("down", "up"):
                done = [
                    (
                        payload_bps(network, way, flows=6, skip_s=skip_s, seconds=4.0),
                        there(network, way, seconds, congestion),
                    )
                    for _ in range(runs)
                ]
                yield judged(mbit, rtt_ms, way, ideal, done)


def in_memory(folder, address):
    """Return the command that serves out of a file system with room for every upload."""
    mount = f"mkdir {folder} && mount -t tmpfs -o size=2g far {folder}"
    return ["sh", "-c", f'{mount} && exec "$@"', "sh", *serving(address, folder)]


def until_ready_on(network):
    """Return once nginx listens on the far host."""
    look = ["sh", "-c", "until ss -tln | grep -q :8643; do sleep 0.02; done"]
    network.server.run(look, timeout=20, check=True)


def there(network, way, seconds, congestion):
    """Return what the product measures on the laptop."""
    flows = 6 if seconds else 0
    arguments = ("ours", way, network.server.address, flows, seconds, "-", congestion)
    done = network.laptop.run(client(*arguments), timeout=60, plain=True)
    if done.returncode:
        raise SystemExit(done.stderr)
    return json.loads(done.stdout)


def judged(mbit, rtt_ms, way, ideal, done):
    """Return the row and the errors that count, in percent."""
    bare = [100 * (b / ideal - 1) for b, _ in done]
    if any("fault" in r for _, r in done):
        told = next(r["fault"] for _, r in done if "fault" in r)
        return (mbit, rtt_ms, way, *("-" * 6), told), []
    mine = [100 * (r["goodput_bps"] / ideal - 1) for _, r in done]
    beside = [100 * (r["goodput_bps"] / b - 1) for b, r in done]
    by_bare = [abs(b) > 0.2 for b in bare]
    judged_by = [b if other else m for m, b, other in zip(mine, beside, by_bare, strict=True)]
    counts = [abs(error) for error in judged_by]
    half = median((r["high_bps"] - r["low_bps"]) / 2 / r["goodput_bps"] * 100 for _, r in done)
    row = (
        mbit,
        rtt_ms,
        way,
        f"{median(bare):+.3f}",
        f"{median(mine):+.3f}",
        f"{median(beside):+.3f}",
        f"{half:.2f}",
        f"{median(r['seconds'] for _, r in done):.1f}",
        done[0][1]["flows"],
        f"{median(counts):.3f} ({'bare' if any(by_bare) else 'ideal'})",
    )
    return row, counts


def main():
    """Do what was asked for."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--matrix", action="store_true")
    parser.add_argument("--pairs", type=int, default=10)
    parser.add_argument("--runs", type=int, default=1)
    parser.add_argument("--only", default="", help="rows that hold this; cells as MBIT/RTT,...")
    parser.add_argument("--congestion", default="bbr")
    parser.add_argument("--seconds", type=float, default=0.0, help="fixed length with 6 flows")
    if "--matrix" not in sys.argv:
        alone()
    asked = parser.parse_args()
    if asked.matrix:
        matrix(asked.runs, asked.only, asked.congestion, asked.seconds)
    else:
        ceiling(asked.pairs, asked.only)


if __name__ == "__main__":
    main()
