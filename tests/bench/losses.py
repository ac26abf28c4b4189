"""Print, for lossy lines, whether the true ratio lies inside the 95 % interval of each direction.

The truth is what the line really lost of the packets it carried in that direction is set to; the
width is divided by Wilson's for the same count (Wilson 1927, z = 1.96 for 95 %): losses that come
in runs by chance widen it.
"""

import math

from practice_visits import practise, statistics, table

Z = 1.959963984540054
CELLS = [
    (tier, loss, rtt)
    for tier in ("Tern Bay 25/5", "Tern Bay 100/20")
    for loss in (0.005, 0.02)
    for rtt in (5, 20, 80)
]


def wilson_width(lost, sent):
    """Return the width of Wilson's interval."""
    ratio = lost / sent
    spread = Z * math.sqrt(ratio * (1 - ratio) / sent + Z**2 / (4 * sent**2))
    return 2 * spread / (1 + Z**2 / sent)


def side(delay, way, sent, loss):
    """Return the row's part of one direction and whether the truth was inside."""
    ratio, low, high = (delay[f"{way}_{part}"] for part in ("loss_ratio", "low", "high"))
    if ratio is None:
        return ("-", "-", "-"), False
    inside = low <= loss <= high
    times = (high - low) / wilson_width(round(ratio * sent), sent)
    cells = (f"{low:.4f}-{high:.4f}", "in" if inside else "OUT", f"{times:.2f}")
    return cells, inside


def main():
    """Run all cells and print the table with its count."""
    rows, good = [], 0
    for seed, (tier, loss, rtt) in enumerate(CELLS, start=101):
        line = ("--tier", tier, "--loss", str(loss), "--rtt", str(rtt), "--seed", str(seed))
        done = practise(*line, "--plan", "no-fill")
        delay = done.record and statistics(done.record, "delay", role="server")
        if not delay:
            rows.append((tier, loss, rtt, "-", "-", "-", "-", "-", "-", "-"))
            continue
        up, up_in = side(delay, "forward", delay["sent"], loss)
        down, down_in = side(delay, "backward", delay["backward_sent"] or delay["sent"], loss)
        good += up_in and down_in
        rows.append((tier, loss, rtt, delay["sent"], *up, *down))
    head = (
        "tier",
        "loss",
        "rtt",
        "n",
        "up interval",
        "",
        "/ Wilson",
        "down interval",
        "",
        "/ Wilson",
    )
    table(head, rows)
    print(f"true ratio inside, both directions: {good} of {len(rows)} cells")


if __name__ == "__main__":
    main()
