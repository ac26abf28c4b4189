"""Print, for each fault and seed, what the visit says: verdict, segment, finding, next step."""

import sys

from practice_visits import outcome, practise, table

TRUE_SEGMENTS = {
    "slow-line": "access",
    "lossy-line": "access",
    "modem-dead": "modem",
    "no-lease": "home",
    "dead-dns": "operator",
    "gateway-dead": "home",
}
SEEDS = (1, 2, 3)


def main():
    """Run the table; the first argument picks faults by name."""
    wanted = sys.argv[1:] or list(TRUE_SEGMENTS)
    rows, right = [], 0
    for fault in wanted:
        for seed in SEEDS:
            done = practise(fault, "--seed", str(seed))
            told = outcome(done.record) if done.record else ("no record", "-", "-", "-")
            right += told[1] == TRUE_SEGMENTS[fault]
            rows.append(
                (fault, seed, done.exit_code, *told, TRUE_SEGMENTS[fault], f"{done.wall_s:.1f}")
            )
    head = ("fault", "seed", "exit", "verdict", "segment", "finding", "next step", "true", "wall s")
    table(head, rows)
    print(f"segment right: {right} of {len(rows)}")


if __name__ == "__main__":
    main()
