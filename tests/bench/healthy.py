"""Print what healthy visits say: twenty on five lines; none may be below or not proven."""

from collections import Counter

from practice_visits import outcome, peak_child_mb, practise, table

LINES = (
    ("--tier", "Tern Bay 25/5", "--rtt", "20"),
    ("--tier", "Tern Bay 100/20", "--rtt", "8"),
    ("--tier", "Tern Bay 100/20", "--rtt", "20"),
    ("--tier", "Tern Bay 250/100", "--rtt", "12"),
    ("--tier", "Tern Bay 500/500", "--rtt", "5"),
)
SEEDS = (1, 2, 3, 4)


def main():
    """Run them all and print a row for each, then the counts."""
    rows, verdicts = [], Counter()
    for line in LINES:
        for seed in SEEDS:
            done = practise(*line, "--seed", str(seed))
            told = outcome(done.record) if done.record else ("no record", "-", "-", "-")
            verdicts[told[0]] += 1
            moved = sum(
                sum(m["observed"]["slice_bytes"])
                for m in (done.record or {"measurements": []})["measurements"]
                if m["kind"] == "throughput" and m["observed"]
            )
            rows.append(
                (line[1], line[3], seed, *told[:3], f"{done.wall_s:.1f}", f"{moved / 1e6:.0f}")
            )
    table(("tier", "rtt ms", "seed", "verdict", "segment", "finding", "wall s", "MB"), rows)
    print(", ".join(f"{n} {v}" for v, n in sorted(verdicts.items())))
    print(f"largest process: {peak_child_mb():.0f} MB")


if __name__ == "__main__":
    main()
