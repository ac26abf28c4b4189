"""Two to four records side by side, and whether first and last differ beyond their intervals."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from html import escape
from typing import TYPE_CHECKING

from agent.errors import UsageError
from agent.record import Criterion, PathChange, Segment, StoredRecord, difference
from agent.sheet.bars import criterion_text, label_of
from agent.sheet.catalogue import words
from agent.sheet.headline import build_next_step, port_text, tier_text
from agent.sheet.numbers import DASH
from agent.sheet.path_rows import path_cell
from agent.sheet.when import local_time
from agent.sheet.wording import SHORT, bounded, finding_sentence, more, word

if TYPE_CHECKING:
    from rich.console import Console

FEWEST, MOST = 2, 4
MOST_ROWS = 24
PRINT_PT = 8.5
MOST_FINDINGS = 2
HASH_SHOWN = 16
_OWN = ("record", "when")
"""Rows that are another one for every record, so that a change says nothing."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Row:
    """One line of the comparison: a cell per record, and what changed from first to last."""

    label: str
    cells: tuple[str, ...]
    difference: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Comparison:
    """Records side by side: what each is, then each criterion."""

    title: str
    about: tuple[Row, ...]
    criteria: tuple[Row, ...]


def build_comparison(records: Sequence[StoredRecord], path: PathChange | None = None) -> Comparison:
    """Return two to four records side by side, in the order given. Raises UsageError.

    `path` says how the walk of the last compares with that of the first.
    """
    if not FEWEST <= len(records) <= MOST:
        raise UsageError(
            problem=words.COMPARE_COUNT.format(count=len(records)),
            remedy=words.COMPARE_COUNT_REMEDY,
        )
    names = dict.fromkeys(c.name for s in records for c in s.record.assessment.criteria)
    return Comparison(
        title=words.COMPARE_TITLE,
        about=_about(records),
        criteria=(
            *(_criterion_row(name, records) for name in list(names)[:MOST_ROWS]),
            *_path_rows(records, path),
        ),
    )


def print_comparison(comparison: Comparison, console: Console) -> None:
    """Print the comparison as a ruled table."""
    from rich.box import SIMPLE_HEAD  # noqa: PLC0415 - the view itself needs no terminal
    from rich.table import Table  # noqa: PLC0415
    from rich.text import Text  # noqa: PLC0415

    from agent.sheet.tied import Tied  # noqa: PLC0415

    grid = Table(box=SIMPLE_HEAD, expand=True, padding=(0, 1, 0, 0), title=comparison.title)
    grid.title_justify = "left"
    for name in ("", *comparison.about[0].cells, words.COMPARE_DIFFERENCE):
        grid.add_column(Text(name), overflow="fold")
    for row in (*comparison.about[1:], *comparison.criteria):
        grid.add_row(*(Tied(cell) for cell in (row.label, *row.cells, row.difference)))
    console.print(grid, markup=False, highlight=False)


def comparison_html(comparison: Comparison) -> str:
    """Return the comparison as one self-contained HTML document."""
    from agent.sheet.html import document  # noqa: PLC0415 - only this face needs it

    first, *rest = (*comparison.about, *comparison.criteria)
    head = "".join(
        f'<th scope="col">{escape(cell)}</th>'
        for cell in ("", *first.cells, words.COMPARE_DIFFERENCE)
    )
    rows = "".join(
        f"<tr><td>{escape(row.label)}</td>"
        + "".join(f"<td><bdi>{escape(cell)}</bdi></td>" for cell in (*row.cells, row.difference))
        + "</tr>"
        for row in rest
    )
    title = escape(comparison.title)
    table = f'<table class="compare"><thead><tr>{head}</tr></thead><tbody>{rows}</tbody></table>'
    body = f"<main><h1>{title}</h1>{table}</main>"
    return document(
        comparison.title, body, language=words.LANGUAGE, direction="ltr", print_pt=PRINT_PT
    )


def _about(records: Sequence[StoredRecord]) -> tuple[Row, ...]:
    shown = {
        "record": [bounded(s.record.record_id, SHORT) for s in records],
        "verdict": [words.VERDICT[s.record.assessment.verdict] for s in records],
        "segment": [word(words.SEGMENT, s.record.diagnosis.segment) for s in records],
        "findings": [_findings(s) for s in records],
        "step": [build_next_step(s.record).text for s in records],
        "when": [local_time(s.record) for s in records],
        "spot": [bounded(s.record.visit.spot or DASH, SHORT) for s in records],
        "plugged": [word(words.PLUGGED, s.record.visit.plugged_into) for s in records],
        "port": [port_text(s.record) for s in records],
        "tier": [tier_text(s.record) for s in records],
        "settings": [bounded(s.record.settings_sha256, 64)[:HASH_SHOWN] for s in records],
        "rule": [word(words.RULE, s.record.assessment.rule) for s in records],
    }
    return tuple(_about_row(name, cells) for name, cells in shown.items())


def _about_row(name: str, cells: Sequence[str]) -> Row:
    """Return a row of circumstances; one that is the same in every record is told once."""
    label = words.COMPARE_LABEL[name]
    if name in _OWN:
        return Row(label=label, cells=tuple(cells))
    if len(set(cells)) == 1:
        return Row(label=label, cells=_once(cells))
    changed = cells[0] != cells[-1]
    return Row(label=label, cells=tuple(cells), difference=words.COMPARE_CHANGED if changed else "")


def _once(cells: Sequence[str]) -> tuple[str, ...]:
    return (cells[0], *([words.COMPARE_DITTO] * (len(cells) - 1)))


def _findings(stored: StoredRecord) -> str:
    """Return the faults found, surest first; advice is left out."""
    found = [f for f in stored.record.diagnosis.findings if f.segment is not Segment.NONE]
    said = [finding_sentence(f.code, f.values) for f in found[:MOST_FINDINGS]]
    left = more(len(found) - MOST_FINDINGS)
    return " ".join([*said, *([left] if left else [])]) or DASH


def _criterion_row(name: str, records: Sequence[StoredRecord]) -> Row:
    found = [_named(name, stored) for stored in records]
    known = next(c for c in found if c is not None)
    cells = [_cell(c) for c in found]
    apart = difference(found[0], found[-1])
    told = _told(found, apart)
    if len(set(cells)) == 1 and told == words.COMPARE["same"]:
        return Row(label=label_of(known), cells=_once(cells))
    return Row(label=label_of(known), cells=tuple(cells), difference=told)


def _told(found: Sequence[Criterion | None], apart: str) -> str:
    """Return how the figure changed, and that the limit did where both had one."""
    first, last = found[0], found[-1]
    told = words.COMPARE[apart]
    if first is None or last is None or first.limit is None or last.limit is None:
        return told
    return told if first.limit == last.limit else f"{told}; {words.COMPARE_LIMIT}"


def _path_rows(records: Sequence[StoredRecord], path: PathChange | None) -> tuple[Row, ...]:
    """Return one row where any record has a walk, none otherwise."""
    cells = tuple(path_cell(stored) for stored in records)
    if not any(cell != DASH for cell in cells):
        return ()
    change = path or PathChange(kind="open")
    said = words.COMPARE_PATH[change.kind].format(distance=change.distance)
    return (Row(label=words.COMPARE_PATH_LABEL, cells=cells, difference=said),)


def _named(name: str, stored: StoredRecord) -> Criterion | None:
    """Return the criterion of a name: of several the needed one, else the first."""
    found = [c for c in stored.record.assessment.criteria if c.name == name]
    return next((c for c in found if c.needed), found[0] if found else None)


def _cell(criterion: Criterion | None) -> str:
    if criterion is None:
        return DASH
    text = criterion_text(criterion)
    outcome = words.OUTCOME[criterion.outcome]
    if text is None:
        return outcome
    answers = words.YES_NO.get(criterion.name)
    value = answers[(criterion.measured or 0) >= 1] if answers else text.value
    spread = f" ({text.interval})" if text.interval else ""
    return f"{value}{spread}, {outcome}"
