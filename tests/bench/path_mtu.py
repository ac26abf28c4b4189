"""Path MTU found over lines of a known size, with and without a black hole, both families.

    python tests/bench/path_mtu.py            five sizes, plain, clamped, swallowed, and lossy
    python tests/bench/path_mtu.py --rounds 5 the lossy cells so often

Builds four hosts in namespaces of its own and prints, for each cell: truth, value, who limits it,
whether TCP is held to it, packets and seconds.
"""

import argparse
import json
import os
import subprocess
import sys
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
PROGRAM = ROOT / "tests" / "engines" / "lab_sizes.py"
AS_USER = ["-U", "--map-user=1000", "--map-group=1000", "--keep-caps"]
SIZES = (1500, 1492, 1480, 1400, 1280)
KINDS = {
    "told": {},
    "swallowed": {"swallow": True},
    "swallowed, clamped": {"swallow": True, "clamp": True},
}
CELLS_A_SERVER = 12
"""A server keeps 16 sessions of one client at a time."""

LOSSY = {"swallow": True, "loss_percent": 2}
ROW = (
    "{family:>2}  {kind:<24}{truth:>6}{value:>7}  {limit:<8}{by:<28}{held:<7}{packets:>5}{s:>7.2f}"
)


def cells(rounds):
    """Return (kind, cell) in the order measured."""
    kinds = [*KINDS.items(), *[("swallowed, 2 % lost", LOSSY)] * rounds]
    return [
        (kind, {"family": family, "up": size, "down": size, **more})
        for family in (4, 6)
        for size in SIZES
        for kind, more in kinds
    ]


def found(asked):
    """Yield what the search found in each cell, a new network for every few."""
    for first in range(0, len(asked), CELLS_A_SERVER):
        yield from found_by_one(asked[first : first + CELLS_A_SERVER])


def found_by_one(asked):
    """Yield what the search found in each cell over one network."""
    own = [] if os.geteuid() == 0 else AS_USER
    argv = ["unshare", *own, "-n", sys.executable, str(PROGRAM), json.dumps(asked)]
    environment = os.environ | {"PYTHONPATH": str(ROOT)}
    with subprocess.Popen(argv, stdout=subprocess.PIPE, cwd=ROOT, env=environment) as process:
        for line in process.stdout:
            yield json.loads(line)


def main():
    """Print the table; the exit code is 1 where a value is wrong or late."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--rounds", type=int, default=1)
    asked = cells(parser.parse_args().rounds)
    heads = {"family": "IP", "kind": "line", "truth": "truth", "value": "value", "limit": "limit"}
    print(ROW.replace(":>7.2f", ":>7").format(**heads, by="by", held="TCP", packets="sent", s="s"))
    wrong, longest_s = 0, 0.0
    for (kind, cell), told in zip(asked, found([cell for _, cell in asked]), strict=True):
        wrong += told["path_mtu_bytes"] != cell["up"]
        longest_s = max(longest_s, told["seconds"])
        after = told["vanish_after"] and f"after {told['vanish_after']}"
        print(
            ROW.format(
                family=cell["family"],
                kind=kind,
                truth=cell["up"],
                value=told["path_mtu_bytes"],
                limit=told["up_limit"],
                by=told["limited_by"] or after or "-",
                held={True: "held", False: "open", None: "?"}[told["tcp_held_down"]],
                packets=told["packets"],
                s=told["seconds"],
            ),
            flush=True,
        )
    print(f"{len(asked)} cells, {wrong} wrong, longest {longest_s:.2f} s (bar: 0 wrong, 3 s)")
    return 1 if wrong or longest_s > 3.0 else 0


if __name__ == "__main__":
    raise SystemExit(main())
