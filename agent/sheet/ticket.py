"""The ticket line: a visit in one line of plain letters, to be copied into any other system."""

from __future__ import annotations

import unicodedata

from agent.record import Record, Segment, Sense
from agent.sheet.bars import RATES, bound_text, criterion_text, label_of
from agent.sheet.catalogue import words
from agent.sheet.model import Pair
from agent.sheet.when import moment
from agent.sheet.wording import SHORT, bounded, likelihood, word

LONGEST = 200
TO_THE_MINUTE = "%Y-%m-%dT%H:%M%z"
# What old systems take for granted: signs that have a plain spelling get it.
PLAIN = str.maketrans(
    {"\N{NO-BREAK SPACE}": " ", "\N{EN DASH}": "-", "\N{MINUS SIGN}": "-", "≥": ">=", "≤": "<="}
)


def ticket_line(record: Record) -> Pair:
    """Return the line of at most 200 characters; the record's number stands in it whatever else."""
    head = [bounded(record.private.work_order or "", 30), _when(record)]
    head.append(words.VERDICT[record.assessment.verdict])
    tail = f"{words.LABEL['record']} {bounded(record.record_id, SHORT)}"
    room = LONGEST - len(tail) - 2
    said = "; ".join(part for part in (*head, *_rates(record), _fault(record)) if part)
    return Pair(label=words.TICKET, value=f"{_cut(_plain(said), room)}; {_plain(tail)}")


def _plain(text: str) -> str:
    return unicodedata.normalize("NFC", text.translate(PLAIN)).replace("…", "...")


def _cut(text: str, room: int) -> str:
    return text if len(text) <= room else text[: room - 3].rstrip() + "..."


def _when(record: Record) -> str:
    began = moment(record.started, record.utc_offset_min)
    return began.strftime(TO_THE_MINUTE) if began else ""


def _rates(record: Record) -> list[str]:
    """Return both rates with what is accepted of them."""
    found = [c for name in RATES for c in record.assessment.criteria if c.name == name][:2]
    said = []
    for criterion in found:
        text = criterion_text(criterion)
        if text is not None:
            bound = bound_text(criterion, text) if criterion.sense is Sense.AT_LEAST else ""
            said.append(f"{label_of(criterion)} {text.value}" + (f" ({bound})" if bound else ""))
    return said


def _fault(record: Record) -> str:
    """Return the first finding by its code, which stays the same in every language."""
    first = next((f for f in record.diagnosis.findings if f.segment is not Segment.NONE), None)
    if first is None:
        return ""
    place = word(words.SEGMENT, first.segment)
    return f"{likelihood(first.confidence)}: {place}, {bounded(first.code, SHORT)}"
