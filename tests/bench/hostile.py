"""Print what the parsers make of spoiled packets, and which of their branches those reach.

Arguments: how many packets for each parser (100,000), the seed (1), names of parsers (all). `read`
gave a value, `refused` the error of a malformed message; anything else ends the program with the
packet. `longest` is the slowest of the first of them, the branch counter beside it.
"""

import importlib
import sys
import time
from pathlib import Path

import coverage
from practice_visits import table

HERE = Path(__file__).resolve().parent
sys.path[:0] = [str(HERE.parents[1]), str(HERE.parent / "hostile")]
FIRST = 2_000
"""Packets that are timed one by one."""


def main(count, seed, names):
    """Print one row for each parser, then one for each module of parsers."""
    branches = coverage.Coverage(branch=True, data_file=None, source=["agent"], messages=False)
    branches.start()
    rows, modules = swept(count, seed, names)
    branches.stop()
    table(("parser", "packets", "read", "refused", "longest ms"), rows)
    print()
    table(("module", "branches", "reached", "%"), [reached(branches, name) for name in modules])


def swept(count, seed, names):
    """Return a row for each parser, and the modules whose branches count."""
    mutation, parsers = importlib.import_module("mutation"), importlib.import_module("parsers")
    rows = []
    wanted = [one for one in parsers.parsers() if not names or one.name in names]
    for parser in wanted:
        refused = sum(
            outcome(parser, packet, parsers.REFUSALS)
            for packet in mutation.spoiled(parser.valid, count, seed)
        )
        longest_s = max(
            timed(parser, packet, parsers.REFUSALS)
            for packet in mutation.spoiled(parser.valid, FIRST, seed)
        )
        rows.append((parser.name, count, count - refused, refused, f"{1000 * longest_s:.2f}"))
    return rows, sorted({parser.module for parser in wanted})


def outcome(parser, packet, refusals):
    """Return whether the packet was refused."""
    try:
        parser.parse(packet)
    except refusals:
        return True
    except BaseException:
        print(f"{parser.name}: {packet.hex()}", file=sys.stderr)
        raise
    return False


def timed(parser, packet, refusals):
    """Return the processor seconds that one packet took."""
    start = time.thread_time()
    outcome(parser, packet, refusals)
    return time.thread_time() - start


def reached(branches, name):
    """Return the row of a module: its branches and how many were taken."""
    numbers = branches._analyze(sys.modules[name].__file__).numbers
    share = 100 * numbers.n_executed_branches / numbers.n_branches if numbers.n_branches else 100
    return name, numbers.n_branches, numbers.n_executed_branches, f"{share:.1f}"


if __name__ == "__main__":
    COUNT, SEED = (*map(int, sys.argv[1:3]), *(100_000, 1)[len(sys.argv) - 1 :])
    main(COUNT, SEED, sys.argv[3:])
