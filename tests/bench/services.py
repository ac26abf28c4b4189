"""Print what a visit reports of each fault of addresses, names, pages and the laptop.

    python tests/bench/services.py                  every fault and every sound home
    python tests/bench/services.py --probe          the same with the right to probe for addresses
    python tests/bench/services.py dead-dns         those named

Each is one visit that leaves the line unfilled; a few run at once. A fault is named where one of
its own findings is reported, and first where that one stands first; a sound home has none but
advice, which places no fault.
"""

import argparse
import sys
from concurrent.futures import ThreadPoolExecutor
from functools import partial
from pathlib import Path

from practice_visits import practise, table

sys.path[:0] = [str(Path(__file__).parents[2])]

from agent.practice.faults import CATALOGUE  # noqa: E402 - the package is beside
from agent.practice.homes import HOMES  # noqa: E402

FILLING = {
    "busy-edge",
    "busy-edge-wavering",
    "deep-buffer",
    "line-drops",
    "lossy-drop-at-modem",
    "lossy-line",
    "lossy-runs",
    "lossy-up",
    "noisy-line",
    "server-slow",
    "slow-at-modem",
    "slow-line",
    "slow-up",
    "wrong-profile",
}
"""These show only where the line is filled, or probed at length: other programs here do."""

HEAD = ("played", "seed", "true", "segment", "named", "findings", "next step", "s")


def main():
    """Play what is wanted and print the tables with their sums."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--probe", action="store_true", help="give visits the right to probe")
    parser.add_argument("--seeds", type=int, default=1, help="how many of each")
    parser.add_argument("--at-once", type=int, default=3, help="how many visits at a time")
    parser.add_argument("names", nargs="*", help="only these faults and homes")
    asked = parser.parse_args()
    named = [f for f in CATALOGUE if f.findings and f.name not in FILLING]
    faults = [f for f in named if wanted(f.name, asked)]
    homes = [name for name in HOMES if wanted(name, asked)]
    seeds = range(1, asked.seeds + 1)
    with ThreadPoolExecutor(asked.at_once) as pool:
        struck = pool.map(partial(play_fault, asked), *pairs(faults, seeds))
        sound = pool.map(partial(play_home, asked), *pairs(homes, seeds))
        struck, sound = list(struck), list(sound)
    table(HEAD, struck + sound)
    print()
    print(f"faults named {count(struck, 'first', 'yes')} of {len(struck)},", end=" ")
    print(f"first in {count(struck, 'first')}, with the right segment {placed(struck)};", end=" ")
    unseen = count(struck, "probe only")
    print(f"{unseen} only with the right to probe")
    print(f"sound homes without a finding: {count(sound, 'none')} of {len(sound)}")


def wanted(name, asked):
    """Tell whether a fault or a home is to be played."""
    return not asked.names or name in asked.names


def pairs(things, seeds):
    """Return things and seeds as two lists, every thing with every seed."""
    both = [(thing, seed) for thing in things for seed in seeds]
    return [thing for thing, _ in both], [seed for _, seed in both]


def play_fault(asked, fault, seed):
    """Return the row of one fault."""
    done = visited(asked, fault.name, seed=seed)
    codes = codes_of(done.record)
    if codes and codes[0] in fault.findings:
        named = "first"
    elif set(codes) & set(fault.findings):
        named = "yes"
    else:
        named = "probe only" if fault.probe and not asked.probe else "no"
    return row(fault.name, seed, fault.segment, named, done)


def play_home(asked, home, seed):
    """Return the row of one home in which nothing is wrong."""
    done = visited(asked, f"--home={home}", seed=seed)
    faults = codes_of(done.record, advice=False)
    return row(home, seed, "none", "; ".join(faults) or "none", done)


def visited(asked, *what, seed):
    """Make one visit that does not fill the line."""
    probe = ("--probe",) if asked.probe else ()
    return practise(*what, *probe, "--plan=no-fill", f"--seed={seed}")


def codes_of(record, *, advice=True):
    """Return the codes of the findings in their order; none without a record."""
    findings = record["diagnosis"]["findings"] if record else []
    return [one["code"] for one in findings if advice or one["segment"] != "none"]


def row(name, seed, true, named, done):
    """Return one line of the table."""
    if done.record is None:
        return (name, seed, true, "-", "no record", done.errors[-80:].strip(), "-", "-")
    found = done.record["diagnosis"]["findings"]
    step = found[0]["next_step"] if found else "-"
    told = ", ".join(f"{one['code']} {one['confidence']:.2f}" for one in found) or "-"
    segment = done.record["diagnosis"]["segment"]
    return (name, seed, true, segment, named, told, step, f"{done.wall_s:.0f}")


def count(rows, *named):
    """Return how many rows are named so."""
    return sum(one[4] in named for one in rows)


def placed(rows):
    """Return how many rows have the true segment."""
    return sum(one[2] == one[3] for one in rows)


if __name__ == "__main__":
    main()
