"""Print how long a page takes and how large it is, from a record in memory to the bytes of a file.

Each page is that of a record of its own, every figure of which was shrunk by another factor, since
the typesetter remembers what it has set. `warm` is a process that has set a page before,
`cold` the typesetter as the program starts it. Give another number of pages as the only argument.
"""

import importlib
import json
import random
import sys
import time
from dataclasses import fields, is_dataclass, replace
from io import StringIO
from itertools import count
from statistics import median

from practice_visits import ROOT, table

sys.path[:0] = [str(ROOT), str(ROOT / "tests" / "sheet")]
records = importlib.import_module("records")
seal = importlib.import_module("agent.record.seal").seal
read_record = importlib.import_module("agent.record.store").read_record
build_sheet = importlib.import_module("agent.sheet.view").build_sheet
html_of = importlib.import_module("agent.sheet.html").html_of
pdf = importlib.import_module("agent.sheet.pdf")
terminal = importlib.import_module("agent.sheet.terminal")
typeset = importlib.import_module("agent.sheet.typeset").typeset

PAGES = 20
SAMPLE = ROOT / "reports" / "sample" / "record.json"
LONGEST = "W" * 200
HEAD = ("record", "from the record to", "median ms", "most ms", "bar ms", "most bytes", "bar bytes")
BARS = {
    "HTML": ("50", "150,000"),
    "PDF, warm": ("150", "200,000"),
}


def healthy(seed):
    """Return a healthy record that no other seed gives."""
    return varied(records.healthy(seed), seed)


def slow(seed):
    """Return the record of the sample, a real practice visit on a slow line, with other figures."""
    return varied(read_record(SAMPLE).record, seed)


def extreme(seed):
    """Return a record that is full to the brim, with other figures and another text."""
    return varied(records.extreme(f"{seed}{LONGEST}"[: len(LONGEST)], seed), seed)


RECORDS = {"healthy": healthy, "slow line": slow, "extreme": extreme}


def varied(record, seed):
    """Return a record of another number, time and name, every figure in it shrunk by one factor."""
    draw = random.Random(seed)
    shrunk = shrink(record, draw.uniform(0.9, 0.99))
    number = importlib.import_module("agent.record.identifier").new_record_id(draw.randbytes(8))
    started = f"2026-03-{1 + seed % 28:02}T{seed % 24:02}:{seed % 60:02}:07Z"
    return replace(
        shrunk,
        record_id=number,
        started=started,
        private=replace(shrunk.private, work_order=f"{seed}", premises=f"{seed} Slipway Lane"),
    )


def shrink(node, factor):
    """Return a part of a record with every fraction multiplied by a factor."""
    if isinstance(node, float):
        return node * factor
    if isinstance(node, tuple):
        return tuple(shrink(item, factor) for item in node)
    if isinstance(node, dict):
        return {name: shrink(value, factor) for name, value in node.items()}
    if is_dataclass(node):
        named = (one.name for one in fields(node) if one.init)
        return replace(node, **{name: shrink(getattr(node, name), factor) for name in named})
    return node


def view(stored):
    """Make the page's model alone."""
    build_sheet(stored)
    return b""


def as_html(stored):
    """Make the screen's page."""
    return html_of(build_sheet(stored)).encode()


def as_text(stored):
    """Make the terminal's page of 80 columns."""
    text = StringIO()
    terminal.print_sheet(build_sheet(stored), terminal.console_for(text, terminal.NARROW))
    return text.getvalue().encode()


def warm(stored, *, detail=False):
    """Make the printed page with the compiler of this process."""
    sheet = build_sheet(stored)
    at = pdf.moment_of(sheet.started)
    data = pdf.data_of(sheet, at, "a4", detail=detail)
    return typeset("page", {"sheet": json.dumps(data), "paper": pdf.PAPERS["a4"]}, at)


def warm_detail(stored):
    """Make the printed page and its second sheet with the compiler of this process."""
    return warm(stored, detail=True)


def cold(stored):
    """Make the printed page as the program does, with a typesetter of its own."""
    return pdf.pdf_of(build_sheet(stored))


FACES = {
    "view": view,
    "HTML": as_html,
    "terminal": as_text,
    "PDF, warm": warm,
    "PDF of two sheets, warm": warm_detail,
    "PDF, cold": cold,
}


def made(make, stored):
    """Return the milliseconds that a face of a record took, and its size in bytes."""
    began = time.perf_counter()
    page = make(stored)
    return 1000 * (time.perf_counter() - began), len(page)


def row(kind, face, pages, seeds):
    """Return one line of the table; the first page of a kind is not counted."""
    make = FACES[face]
    stored = [seal(RECORDS[kind](next(seeds))) for _ in range(pages + 1)]
    took, size = zip(*[made(make, one) for one in stored][1:], strict=True)
    most_ms, most_bytes = BARS.get(face, ("-", "-"))
    bytes_ = f"{max(size):,}" if max(size) else "-"
    return (kind, face, f"{median(took):.1f}", f"{max(took):.1f}", most_ms, bytes_, most_bytes)


def main():
    """Make the pages one after the other and print a line for each record and face."""
    pages = int(sys.argv[1]) if len(sys.argv) > 1 else PAGES
    seeds = count(1)
    table(HEAD, [row(kind, face, pages, seeds) for kind in RECORDS for face in FACES])


if __name__ == "__main__":
    main()
