"""Print what visits say of faults that were played: segment and first finding, counted.

    python tests/bench/diagnosis.py                    play everything, judge it, print the tables
    python tests/bench/diagnosis.py dead-dns detour    these faults only
    python tests/bench/diagnosis.py --keep FOLDER      keep the records there; those there are not
                                                       played again
    python tests/bench/diagnosis.py --judge FOLDER     judge kept records by the rules of now

Each cell is fault, severity and seed; a seed draws the whole line (`diagnosis_cells.py`). A third
of the variants, those of `agent/practice/faults_more.py`, was written after the rules. Right is the
segment that was played, and a first finding that names the fault. Of two faults at once the worse
must stand first, and both must be named. Calibration counts the findings that place a fault: one is
right where it names a fault that was played.
"""

import argparse
import sys
import tempfile
import time
from collections import Counter, defaultdict
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from functools import partial
from pathlib import Path

from diagnosis_cells import (
    CATALOGUE,
    HEALTHY,
    HELD_OUT,
    Cell,
    alone,
    cell_from,
    healthy,
    in_pairs,
    play,
    settings_of,
)
from practice_visits import table

from agent.practice.faults import find_fault
from agent.record.store import read_record
from agent.session.rejudge import judged_anew
from agent.settings.loaded import Loaded
from agent.stats.proportions import wilson

LIKELY = 0.75
BINS = ((0.95, 1.01), (0.85, 0.95), (0.75, 0.85), (0.6, 0.75), (0.0, 0.6))


@dataclass(frozen=True, slots=True, kw_only=True)
class Told:
    """What one visit said, and how long it took to say it from its record, ms."""

    cell: Cell
    verdict: str
    segment: str
    findings: tuple
    judged_ms: float

    @property
    def faults(self):
        """Return the findings that place a fault."""
        return [one for one in self.findings if one.segment.value != "none"]

    @property
    def first(self):
        """Return the code of the first finding, advice included only where nothing else is."""
        return self.findings[0].code if self.findings else "-"

    @property
    def placed(self):
        """Tell whether the segment is the one that was played."""
        return self.segment == true_segment(self.cell)

    @property
    def named(self):
        """Tell whether the first finding names the (worse) fault."""
        if not self.cell.faults or not find_fault(self.cell.faults[0]).findings:
            return not self.faults
        return self.first in find_fault(self.cell.faults[0]).findings

    @property
    def all_named(self):
        """Tell whether every fault that was played is named by some finding."""
        codes = {one.code for one in self.findings}
        return all(codes & set(find_fault(name).findings) for name in self.cell.faults)


def true_segment(cell):
    """Return where the (worse) fault was played."""
    return find_fault(cell.faults[0]).segment if cell.faults else "none"


def judged(kept):
    """Return what the rules of now say of a kept record, None where there is none."""
    file = kept / "record.json"
    if not file.exists():
        return None
    cell = cell_from((kept / "cell.json").read_text())
    record, settings = read_record(file).record, settings_of(cell)
    began = time.perf_counter()
    anew = judged_anew(record, Loaded(settings=settings, sha256="", sources={}))
    took_ms = (time.perf_counter() - began) * 1000
    return Told(
        cell=cell,
        verdict=anew.assessment.verdict.value,
        segment=anew.diagnosis.segment.value,
        findings=anew.diagnosis.findings,
        judged_ms=took_ms,
    )


def share(right, of):
    """Return "right of n" with the 95 % interval of the share."""
    if not of:
        return "0 of 0"
    found = wilson(right, of)
    low, high = found
    return f"{right} of {of} ({100 * right / of:.1f} %, {100 * low:.0f} to {100 * high:.0f})"


def print_matrix(told):
    """Print one row for each fault and severity: n, segment right, first right, what was said."""
    cells = defaultdict(list)
    for one in told:
        cells["+".join(one.cell.faults) or HEALTHY, one.cell.severity].append(one)
    rows = []
    for (name, severity), visits in cells.items():
        wrong = Counter(one.first for one in visits if not one.named)
        segments = Counter(one.segment for one in visits if not one.placed)
        rows.append(
            (
                name + (" *" if set(visits[0].cell.faults) & HELD_OUT else ""),
                severity,
                len(visits),
                true_segment(visits[0].cell),
                sum(one.placed for one in visits),
                sum(one.named for one in visits),
                spelt(Counter(one.verdict for one in visits)),
                spelt(segments),
                spelt(wrong),
            )
        )
    head = ("fault", "severity", "n", "true", "placed", "first", "verdicts", "elsewhere", "said")
    table(head, rows)
    print("* written after the rules")


def spelt(counts):
    """Return counts as a text, the largest first."""
    return ", ".join(f"{count} {name}" for name, count in counts.most_common()) or "-"


def print_sums(told):
    """Print the shares that are right, alone, held out, in pairs and on sound lines."""
    single = [one for one in told if len(one.cell.faults) == 1]
    groups = {
        "seen while the rules were written": [
            one for one in single if not set(one.cell.faults) & HELD_OUT
        ],
        "written after the rules": [one for one in single if set(one.cell.faults) & HELD_OUT],
    }
    for name, visits in groups.items():
        print(f"{name}: segment {share(sum(one.placed for one in visits), len(visits))};", end=" ")
        print(f"first finding {share(sum(one.named for one in visits), len(visits))}")
    pairs = [one for one in told if len(one.cell.faults) > 1]
    worse = sum(one.named for one in pairs)
    both = sum(one.all_named for one in pairs)
    print(f"pairs: worse first {share(worse, len(pairs))}; both {share(both, len(pairs))}")
    sound = [one for one in told if not one.cell.faults]
    likely = [f for one in sound for f in one.faults if f.confidence >= LIKELY]
    print(f"sound lines: {spelt(Counter(one.verdict for one in sound))};", end=" ")
    print(f"findings printed as likely: {len(likely)}")


def print_confusions(told):
    """Print what was said most often in place of what was played."""
    wrong = Counter(
        ("+".join(one.cell.faults) or HEALTHY, one.first) for one in told if not one.named
    )
    rows = [(fault, said, count) for (fault, said), count in wrong.most_common(12)]
    table(("played", "said first", "times"), rows)


def print_calibration(told):
    """Print for each band of confidence how many findings named a fault that was played."""
    counted = defaultdict(list)
    by_code = defaultdict(list)
    for one in told:
        true = {code for name in one.cell.faults for code in find_fault(name).findings}
        for finding in one.faults:
            band = next(b for b in BINS if b[0] <= finding.confidence < b[1])
            counted[band].append((finding.code in true, finding.confidence))
            by_code[finding.code].append((finding.code in true, finding.confidence))
    rows = []
    for low, high in BINS:
        found = counted.get((low, high), [])
        stated = sum(confidence for _, confidence in found) / len(found) if found else 0.0
        right = share(sum(r for r, _ in found), len(found))
        rows.append((f"{low:.2f} to {min(high, 1):.2f}", f"{stated:.2f}", right))
    table(("confidence", "mean stated", "right"), rows)
    print()
    rows = [
        (code, f"{sum(c for _, c in found) / len(found):.2f}", sum(r for r, _ in found), len(found))
        for code, found in sorted(by_code.items())
    ]
    table(("finding", "stated", "right", "of"), rows)


def wanted_cells(asked):
    """Return the cells to play."""
    known = [fault.name for fault in CATALOGUE if fault.name != "household-at-rest"]
    if asked.seen:
        known = [name for name in known if name not in HELD_OUT]
    if asked.held_out:
        known = [name for name in known if name in HELD_OUT]
    seeds = range(asked.first_seed, asked.first_seed + asked.seeds)
    if asked.names:
        return alone([name for name in known if name in asked.names], seeds)
    cells = alone(known, seeds)
    if asked.pairs:
        cells += in_pairs(seeds)
    return cells + healthy(range(asked.first_seed, asked.first_seed + asked.healthy))


def main():
    """Play what is wanted, judge it, and print the tables."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--keep", help="folder of the records")
    parser.add_argument("--judge", help="only judge the records of this folder")
    parser.add_argument("--seeds", type=int, default=1, help="how many of each")
    parser.add_argument("--first-seed", type=int, default=1)
    parser.add_argument("--healthy", type=int, default=10, help="how many sound lines")
    parser.add_argument("--seen", action="store_true", help="leave out those written after")
    parser.add_argument("--held-out", action="store_true", help="only those written after")
    parser.add_argument("--no-pairs", dest="pairs", action="store_false")
    parser.add_argument("--at-once", type=int, default=2, help="how many visits at a time")
    parser.add_argument("names", nargs="*", help="only these faults")
    asked = parser.parse_args()
    began = time.monotonic()
    with tempfile.TemporaryDirectory() as scratch:
        folder = Path(asked.judge or asked.keep or scratch)
        if not asked.judge:
            with ThreadPoolExecutor(asked.at_once) as pool:
                list(pool.map(partial(play, folder=folder), wanted_cells(asked)))
        played_s = time.monotonic() - began
        kept = sorted(path for path in folder.iterdir() if (path / "cell.json").exists())
        told = [found for path in kept if (found := judged(path)) is not None]
    print_matrix(told)
    print()
    print_sums(told)
    print(f"visits without a record: {len(kept) - len(told)}")
    print()
    print_confusions(told)
    print()
    print_calibration(told)
    times = sorted(one.judged_ms for one in told)
    print(f"judging a record anew, ms: median {times[len(times) // 2]:.1f}, most {times[-1]:.1f}")
    print(f"playing took {played_s:.0f} s")
    return 0


if __name__ == "__main__":
    sys.exit(main())
