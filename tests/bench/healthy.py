"""Print what fifty healthy wired visits say, on ten lines: none may be below, one not proven.

python tests/bench/healthy.py                  all of them, one after the other
python tests/bench/healthy.py --seeds 1        one of each line
"""

import argparse
from collections import Counter
from concurrent.futures import ThreadPoolExecutor

from practice_visits import outcome, peak_child_mb, practise, table

LINES = (
    ("--tier", "Tern Bay 25/5", "--rtt", "20"),
    ("--tier", "Tern Bay 25/5", "--rtt", "35"),
    ("--tier", "Tern Bay 50/10", "--rtt", "14"),
    ("--tier", "Tern Bay Air 60/10", "--rtt", "30"),
    ("--tier", "Tern Bay 100/20", "--rtt", "8"),
    ("--tier", "Tern Bay 100/20", "--rtt", "20", "--home", "at-modem"),
    ("--tier", "Tern Bay 100/20", "--rtt", "12", "--home", "dual-stack"),
    ("--tier", "Tern Bay 250/100", "--rtt", "12"),
    ("--tier", "Tern Bay 300/30", "--rtt", "10"),
    ("--tier", "Tern Bay 500/500", "--rtt", "5"),
)
SEEDS = 5
LIKELY = 0.75


def main():
    """Run them and print a row for each, then the counts."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--seeds", type=int, default=SEEDS, help="visits on each line")
    parser.add_argument("--first-seed", type=int, default=1)
    parser.add_argument("--at-once", type=int, default=1, help="how many visits at a time")
    asked = parser.parse_args()
    seeds = range(asked.first_seed, asked.first_seed + asked.seeds)
    cells = [(line, seed) for line in LINES for seed in seeds]
    with ThreadPoolExecutor(asked.at_once) as pool:
        done = list(pool.map(lambda cell: practise(*cell[0], "--seed", str(cell[1])), cells))
    rows, verdicts, likely = [], Counter(), 0
    for (line, seed), visit in zip(cells, done, strict=True):
        told = outcome(visit.record) if visit.record else ("no record", "-", "-", "-")
        verdicts[told[0]] += 1
        likely += count_likely(visit.record)
        kind = line[5] if len(line) > 4 else "-"
        moved = f"{moved_bytes(visit.record) / 1e6:.0f}"
        rows.append((line[1], line[3], kind, seed, *told[:3], f"{visit.wall_s:.1f}", moved))
    table(("tier", "rtt ms", "home", "seed", "verdict", "segment", "finding", "wall s", "MB"), rows)
    print(", ".join(f"{n} {v}" for v, n in sorted(verdicts.items())))
    print(f"findings of a fault printed as likely: {likely}")
    print(f"largest process: {peak_child_mb():.0f} MB")


def count_likely(record):
    """Return how many findings place a fault and are printed as likely."""
    findings = record["diagnosis"]["findings"] if record else []
    return sum(one["segment"] != "none" and one["confidence"] >= LIKELY for one in findings)


def moved_bytes(record):
    """Return what the transfers moved, octets."""
    transfers = [m for m in (record or {"measurements": []})["measurements"] if m["observed"]]
    return sum(sum(m["observed"]["slice_bytes"]) for m in transfers if m["kind"] == "throughput")


if __name__ == "__main__":
    main()
