"""What the benchmark programs share: one practice visit as a process, its record, its tables."""

import json
import resource
import subprocess
import sys
import tempfile
import time
from dataclasses import dataclass
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent.parent


@dataclass(frozen=True, slots=True, kw_only=True)
class Practised:
    """One practice visit: its exit code, its record (None where it left none), its duration."""

    exit_code: int
    record: dict | None
    wall_s: float
    errors: str


def practise(*arguments):
    """Run `doorstep practice` with the arguments and return what came of it."""
    with tempfile.TemporaryDirectory() as folder:
        command = [
            sys.executable,
            "-m",
            "agent",
            "practice",
            *arguments,
            "--quiet",
            "--out",
            folder,
        ]
        began = time.monotonic()
        done = subprocess.run(command, cwd=ROOT, capture_output=True, text=True, check=False)
        wall_s = time.monotonic() - began
        found = sorted(Path(folder).glob("*/record.json"))
        record = json.loads(found[0].read_text()) if found else None
    return Practised(exit_code=done.returncode, record=record, wall_s=wall_s, errors=done.stderr)


def measurements(record, kind, **wanted):
    """Return the measurements of a kind whose members have the wanted values."""
    return [
        m
        for m in record["measurements"]
        if m["kind"] == kind and all(m.get(k) == v for k, v in wanted.items())
    ]


def statistics(record, kind, **wanted):
    """Return the statistics of the first such measurement, None where there is none."""
    found = measurements(record, kind, **wanted)
    return found[0]["statistics"] if found else None


def outcome(record):
    """Return verdict, segment, first finding and its next step."""
    findings = record["diagnosis"]["findings"]
    first = findings[0] if findings else {"code": "-", "next_step": "-"}
    verdict, segment = record["assessment"]["verdict"], record["diagnosis"]["segment"]
    return verdict, segment, first["code"], first["next_step"]


def table(head, rows):
    """Print rows under a head, each column as wide as its widest cell."""
    cells = [[str(c) for c in row] for row in (head, *rows)]
    widths = [max(len(row[i]) for row in cells) for i in range(len(head))]
    for row in cells:
        print("  ".join(c.ljust(w) for c, w in zip(row, widths, strict=True)).rstrip())


def peak_child_mb():
    """Return the largest resident size of any child so far, in MB."""
    return resource.getrusage(resource.RUSAGE_CHILDREN).ru_maxrss / 1_000
