"""Print goodput against the shaped rate by header arithmetic, and round trips against the line's.

The practice line is shaped in frames: 1514 octets for a packet of 1500. A full segment with time
stamps carries 1448 octets of payload (RFC 6349 §4.1.1, RFC 7323 §3.2), so the ideal goodput is the
shaped rate times 1448 / 1514.
"""

import sys

from practice_visits import practise, statistics, table

FRAME, PAYLOAD = 1514, 1448
CELLS = [
    *(("Tern Bay 25/5", (), rtt) for rtt in (5, 20, 80)),
    *(("Tern Bay 100/20", (), rtt) for rtt in (5, 20, 80)),
    ("Tern Bay 1000/500", ("--down", "940M", "--up", "100M"), 5),
]
SIDE = ("lease", "dns", "http", "path")


def error_percent(record, direction):
    """Return how far the goodput of a direction is from the ideal, in percent."""
    found = statistics(record, "throughput", direction=direction)
    if not found or found["goodput_bps"] is None:
        return None
    ideal = record["practice"]["truth"][f"{direction}_bps"] * PAYLOAD / FRAME
    return (found["goodput_bps"] / ideal - 1) * 100


def width_percent(record, direction):
    """Return the half-width of the interval in percent of the goodput."""
    found = statistics(record, "throughput", direction=direction)
    if not found or found["low_bps"] is None:
        return None
    return (found["high_bps"] - found["low_bps"]) / 2 / found["goodput_bps"] * 100


def shown(value, places=2):
    """Return a number as text, a dash where there is none."""
    return "-" if value is None else f"{value:.{places}f}"


def row(name, line, rtt):
    """Run one cell and return its row."""
    skips = [f"--without={kind}" for kind in SIDE]
    done = practise("--tier", name, *line, "--rtt", str(rtt), *skips)
    if done.record is None:
        return (name, *line, rtt, done.exit_code, done.errors[-80:])
    record = done.record
    delay = statistics(record, "delay", role="server")
    median = delay["rtt_ms"]["median"] if delay else None
    truth = record["practice"]["truth"]["rtt_ms"]
    return (
        name,
        " ".join(line),
        rtt,
        shown(error_percent(record, "down")),
        shown(width_percent(record, "down")),
        shown(error_percent(record, "up")),
        shown(width_percent(record, "up")),
        shown(None if median is None else median - truth, 3),
    )


def main():
    """Run all cells, or those whose tier holds the first argument."""
    wanted = sys.argv[1] if len(sys.argv) > 1 else ""
    rows = [row(*cell) for cell in CELLS if wanted in cell[0]]
    head = ("tier", "line", "rtt ms", "down err %", "± %", "up err %", "± %", "rtt err ms")
    table(head, rows)


if __name__ == "__main__":
    main()
