"""Print what proving a healthy line costs: time from the first delay series on, and data.

Both directions, idle and loaded delay on 100/20 Mbit/s at 20 ms; the time by the record's own
monotonic times. The bar: 12 s, intervals within 1 %, half the data of ten seconds each way. Give
another number of visits as the only argument.
"""

import sys
from statistics import median

from practice_visits import measurements, practise, table

LINE = ("--tier", "Tern Bay 100/20", "--rtt", "20")
VISITS = 5
FIXED_S = 10.0
HEAD = ("seed", "verdict", "transfers", "s", "MB", "of 10+10 s", "down +-", "up +-")


def spent_s(record):
    """Return the seconds from the first delay series or transfer to the end of the last."""
    timed = measurements(record, "delay") + measurements(record, "throughput")
    ends_s = max(m["started_s"] + m["duration_s"] for m in timed)
    return ends_s - min(m["started_s"] for m in timed)


def moved(transfer):
    """Return the octets that a transfer moved."""
    return sum(transfer["observed"]["slice_bytes"])


def fixed(transfer):
    """Return the octets that ten seconds at the rate of a transfer would have moved."""
    return transfer["statistics"]["goodput_bps"] / 8 * FIXED_S


def width(transfer):
    """Return half the interval of a transfer over its rate."""
    found = transfer["statistics"]
    return (found["high_bps"] - found["low_bps"]) / 2 / found["goodput_bps"]


def cost(record):
    """Return seconds, MB, the share of fixed transfers' data, and both widths."""
    transfers = measurements(record, "throughput")
    first = {m["direction"]: m for m in reversed(transfers)}
    octets = sum(map(moved, transfers))
    share = octets / sum(map(fixed, first.values()))
    return spent_s(record), octets / 1e6, share, width(first["down"]), width(first["up"])


def row(seed, record):
    """Return one line of the table."""
    seconds, megabytes, share, down, up = cost(record)
    verdict, count = record["assessment"]["verdict"], len(measurements(record, "throughput"))
    shown = (f"{seconds:.1f}", f"{megabytes:.0f}", f"{share:.0%}", f"{down:.2%}", f"{up:.2%}")
    return (seed, verdict, count, *shown)


def main():
    """Make the visits one after the other, print a line for each and the medians."""
    visits = int(sys.argv[1]) if len(sys.argv) > 1 else VISITS
    records = {seed: practise(*LINE, "--seed", str(seed)).record for seed in range(1, visits + 1)}
    whole = {seed: record for seed, record in records.items() if record}
    rows = [row(seed, record) for seed, record in whole.items()]
    table(HEAD, rows)
    seconds, _, shares, *_ = zip(*map(cost, whole.values()), strict=True)
    print(f"{len(whole)} of {visits} visits left a record")
    print(f"s: median {median(seconds):.1f}, most {max(seconds):.1f}")
    print(f"data of 10+10 s: median {median(shares):.0%}, most {max(shares):.0%}")


if __name__ == "__main__":
    main()
