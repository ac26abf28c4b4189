"""The rows of words: circumstances and conclusions, told once where all records share them."""

from __future__ import annotations

from collections.abc import Callable, Sequence

from agent.record import PathChange, Record, Segment, StoredRecord
from agent.sheet.bars import MARKS
from agent.sheet.catalogue import compare as said
from agent.sheet.catalogue import words
from agent.sheet.comparison.model import Change, Column, TextRow
from agent.sheet.headline import build_headline, build_next_step, port_text, tier_text
from agent.sheet.model import Cell, Ground, Pair
from agent.sheet.name_rows import names_in_brief
from agent.sheet.numbers import DASH
from agent.sheet.path_rows import path_cell
from agent.sheet.strip import build_strip
from agent.sheet.when import local_time
from agent.sheet.wording import SHORT, bounded, finding_sentence, more, word

MOST_FINDINGS = 2
HASH_SHOWN = 16
NOTHING = Change(text="")

Told = Callable[[Record], str]


def build_column(stored: StoredRecord, label: str) -> Column:
    """Return what one record concluded, under its label."""
    record = stored.record
    headline, step, strip = build_headline(record), build_next_step(record), build_strip(record)
    return Column(
        label=label,
        mark=MARKS[record.assessment.verdict],
        verdict=headline.verdict,
        reason=headline.reason,
        strip=strip,
        place=_place(record, strip),
        step=step.text,
        caution=step.caution,
    )


def changed(cells: Sequence[str]) -> Change:
    """Return that the last is another than the first, nothing where it is not."""
    return Change(text=said.CHANGED, told=True) if cells[0] != cells[-1] else NOTHING


def circumstances(
    records: Sequence[StoredRecord], labels: Sequence[str]
) -> tuple[tuple[Pair, ...], tuple[TextRow, ...]]:
    """Return what all records share, and a row for each circumstance that they do not.

    What the columns are called by already has no row.
    """
    shared, rows = [], []
    for name, told in _CIRCUMSTANCES.items():
        cells = tuple(told(stored.record) for stored in records)
        if cells == tuple(labels):
            continue
        if len(set(cells)) > 1:
            rows.append(_row(name, tuple(cell or DASH for cell in cells)))
        elif cells[0]:
            shared.append(Pair(label=said.LABEL[name], value=cells[0]))
    return tuple(shared), tuple(rows)


def when_row(records: Sequence[StoredRecord]) -> TextRow:
    """Return when each visit began, which is another moment for every one."""
    cells = tuple(local_time(stored.record) for stored in records)
    return TextRow(label=said.LABEL["when"], cells=cells, change=NOTHING)


def findings_row(records: Sequence[StoredRecord]) -> tuple[TextRow, ...]:
    """Return what was found at fault, no row where nothing was."""
    cells = tuple(_findings(stored.record) for stored in records)
    return (_row("findings", cells),) if set(cells) != {DASH} else ()


def fact_rows(records: Sequence[StoredRecord], path: PathChange | None) -> tuple[TextRow, ...]:
    """Return names, pages, the way and the records' own numbers, rows of dashes left out."""
    names = tuple(_names(stored.record, pages=False) for stored in records)
    pages = tuple(_names(stored.record, pages=True) for stored in records)
    ways = tuple(path_cell(stored) for stored in records)
    rows = (
        TextRow(label=said.LABEL["names"], cells=names, change=NOTHING),
        TextRow(label=said.LABEL["pages"], cells=pages, change=NOTHING),
        TextRow(label=said.LABEL["path"], cells=ways, change=_path_change(path)),
    )
    proofs = TextRow(label=said.LABEL["record"], cells=tuple(map(_proof, records)), change=NOTHING)
    return (*(row for row in rows if set(row.cells) != {DASH}), proofs)


def _row(name: str, cells: tuple[str, ...]) -> TextRow:
    return TextRow(label=said.LABEL[name], cells=cells, change=changed(cells))


def _place(record: Record, strip: Sequence[Cell]) -> str:
    """Return the segment at fault with how sure that is, as its strip says it."""
    segment = record.diagnosis.segment
    if segment is Segment.NONE:
        return words.GROUND[Ground.CLEAR]
    name = word(words.SEGMENT, segment)
    at = (c for c in strip if c.name == name and c.ground not in (Ground.CLEAR, Ground.ABSENT))
    cell = next(at, None)
    return name if cell is None else f"{name}: {cell.state}"


def _findings(record: Record) -> str:
    """Return the faults found, surest first; advice is left out."""
    found = [f for f in record.diagnosis.findings if f.segment is not Segment.NONE]
    told = [finding_sentence(f.code, f.values) for f in found[:MOST_FINDINGS]]
    left = more(len(found) - MOST_FINDINGS)
    return " ".join([*told, *([left] if left else [])]) or DASH


def _names(record: Record, *, pages: bool) -> str:
    """Return the line on the pages, or those on the resolvers."""
    lines = names_in_brief(record).pairs
    if pages:
        return next((p.value for p in lines if p.label == words.LABEL["pages"]), DASH)
    return "; ".join(p.value for p in lines if p.label != words.LABEL["pages"]) or DASH


def _path_change(path: PathChange | None) -> Change:
    change = path or PathChange(kind="open")
    text = said.PATH[change.kind].format(distance=change.distance)
    return Change(text=text, told=change.kind == "changed")


def _proof(stored: StoredRecord) -> str:
    number, sha256 = bounded(stored.record.record_id, SHORT), bounded(stored.sha256, 64)
    return f"{number}, {words.LABEL['hash']} {sha256[:HASH_SHOWN]} …" if sha256 else number


def _server(record: Record) -> str:
    return bounded(record.server.id or "", SHORT) if record.server else ""


_CIRCUMSTANCES: dict[str, Told] = {
    "work_order": lambda r: bounded(r.private.work_order or "", SHORT),
    "premises": lambda r: bounded(r.private.premises or ""),
    "tier": tier_text,
    "spot": lambda r: bounded(r.visit.spot or "", SHORT),
    "plugged": lambda r: word(words.PLUGGED, r.visit.plugged_into),
    "port": port_text,
    "alone": lambda r: words.STATED[r.visit.nothing_else_on],
    "server": _server,
    "rule": lambda r: word(words.RULE, r.assessment.rule),
    "settings": lambda r: bounded(r.settings_sha256, 64)[:HASH_SHOWN],
}
