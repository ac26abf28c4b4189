"""Hop walks over real routers: how long, whether links are invented, whether limits read as loss.

Run: python tests/bench/paths.py [--walks 100] [--family 4|6]. Builds its networks in namespaces.
"""

import argparse
import json
import os
import subprocess
import sys
from itertools import pairwise
from pathlib import Path
from statistics import median

ROOT = Path(__file__).parents[2]
PROGRAM = ROOT / "tests" / "engines" / "lab_ways.py"
AS_USER = ["-U", "--map-user=1000", "--map-group=1000", "--keep-caps"]
AT_ONCE = 50
HOPS, SPLIT, LIMITED = 12, 7, 5
SILENT = [2, 4, 6, 11]


def walked(count, **plan):
    """Return the walks of one network after another, and the true ways."""
    root = os.geteuid() == 0
    plan |= {"user": "65534" if root else "same", "hops": HOPS}
    argv = ["unshare", *([] if root else AS_USER), "-n", sys.executable, str(PROGRAM)]
    walks, ways = [], []
    while len(walks) < count:
        asked = plan | {"walks": min(AT_ONCE, count - len(walks))}
        done = subprocess.run(
            [*argv, json.dumps(asked)],
            stdout=subprocess.PIPE,
            text=True,
            timeout=600,
            check=True,
            env=os.environ | {"PYTHONPATH": str(ROOT)},
            cwd=ROOT,
        )
        found = json.loads(done.stdout)
        walks += found["walks"]
        ways = found["ways"]
    return walks, ways


def row(name, walks, *figures):
    times = sorted(walk["duration_s"] for walk in walks)
    reached = sum(walk["path"]["reached"] for walk in walks)
    cells = (f"{len(walks)}", f"{reached}", f"{median(times):.2f} s", f"{times[-1]:.2f} s")
    sys.stdout.write("  ".join((f"{name:32}", *(f"{c:>9}" for c in cells), *figures)) + "\n")
    sys.stdout.flush()


def invented(walks, ways):
    true = {
        (distance, near, far)
        for way in ways
        for distance, (near, far) in enumerate(pairwise(way), start=1)
    }
    drawn = [
        (link["distance"], link["near"], link["far"])
        for walk in walks
        for link in walk["path"]["links"]
    ]
    both = sum(bool(walk["path"]["parallel_at"]) for walk in walks)
    wrong = sum(link not in true for link in drawn)
    return f"{wrong} of {len(drawn)} links invented; both ways seen in {both} walks"


def words(walks, distance):
    found = [
        hop["answering"]
        for walk in walks
        for hop in walk["path"]["hops"]
        if hop["distance"] == distance
    ]
    every = [hop["answering"] for walk in walks for hop in walk["path"]["hops"]]
    told = ", ".join(f"{word} {found.count(word)}" for word in sorted(set(found)))
    return f"called lossy {found.count('lossy')} times ({told}); any hop {every.count('lossy')}"


def main():
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--walks", type=int, default=100)
    parser.add_argument("--family", type=int, choices=(4, 6), default=4)
    asked = parser.parse_args()
    head = ("walks", "reached", "median", "longest")
    sys.stdout.write(f"{HOPS} hops, IPv{asked.family}; two flows\n")
    sys.stdout.write("  ".join((f"{'':32}", *(f"{cell:>9}" for cell in head))) + "\n")
    quick = max(1, asked.walks // 10)
    walks, _ = walked(quick, family=asked.family, silent=SILENT)
    row(f"{len(SILENT)} silent", walks)
    walks, ways = walked(asked.walks, family=asked.family, split=SPLIT)
    row(f"two ways at {SPLIT + 1} and {SPLIT + 2}", walks, invented(walks, ways))
    walks, _ = walked(asked.walks, family=asked.family, limited=[LIMITED])
    row(f"hop {LIMITED} answers twice a second", walks, words(walks, LIMITED))


if __name__ == "__main__":
    main()
