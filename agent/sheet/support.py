"""The blocks of facts: who, where and when, against what server, by what limits."""

from __future__ import annotations

from datetime import datetime

from agent.record import Kind, Record, Scalar, ThroughputStatistics
from agent.sheet.address_rows import address_block
from agent.sheet.catalogue import words
from agent.sheet.model import Pair, Pairs
from agent.sheet.name_rows import names_in_brief
from agent.sheet.numbers import DASH, number, quantity, with_unit
from agent.sheet.path_rows import path_block
from agent.sheet.pick import picked
from agent.sheet.reading_rows import reading_block
from agent.sheet.when import local_time
from agent.sheet.wording import LINE, bare_name, bounded, more, value_text, word

TRUTHS_ON_PAGE, MOST_TRUTHS = 4, 40
MEGA = 1e6


def facts(record: Record) -> tuple[Pairs, ...]:
    """Return the blocks of facts of the first sheet that have rows."""
    made = (
        visit_block(record),
        reading_block(record),
        server_block(record),
        address_block(record, brief=True),
        path_block(record),
        names_in_brief(record),
        practice_block(record, TRUTHS_ON_PAGE),
    )
    return tuple(block for block in made if block.pairs)


def visit_block(record: Record) -> Pairs:
    """Return who measured where, when and for what, and how it was judged."""
    label, private, visit = words.LABEL, record.private, record.visit
    stated = (
        (label["work_order"], private.work_order),
        (label["technician"], private.technician),
        (label["premises"], private.premises),
        (label["equipment"], private.equipment),
        (label["spot"], visit.spot),
    )
    pairs = [Pair(label=name, value=bounded(value)) for name, value in stated if value]
    line = f"{word(words.ACCESS, visit.access)}, {word(words.HANDOVER, visit.handover)}"
    pairs += [
        Pair(label=label["purpose"], value=word(words.PURPOSE, visit.purpose)),
        Pair(label=label["access"], value=line),
        Pair(label=label["started"], value=local_time(record)),
        Pair(label=label["took"], value=_took(record)),
        Pair(label=label["rule"], value=word(words.RULE, record.assessment.rule)),
        Pair(label=label["limits"], value=_limits(record)),
    ]
    return Pairs(title=label["visit"], pairs=tuple(pairs))


def _took(record: Record) -> str:
    """Return how long it took and how much data was moved."""
    moved = _moved(record)
    try:
        began, ended = (datetime.fromisoformat(t) for t in (record.started, record.finished))
    except (ValueError, TypeError):
        return moved
    took = quantity(max(0.0, (ended - began).total_seconds()), "s")
    return words.TOOK.format(took=took, moved=moved)


def _moved(record: Record) -> str:
    transfers = picked(record, ThroughputStatistics, Kind.THROUGHPUT)
    return with_unit(number(sum(s.bytes for _, s in transfers) / MEGA, "count"), "MB")


def _limits(record: Record) -> str:
    sources = dict.fromkeys(c.limit_source for c in record.assessment.criteria if c.limit_source)
    said = (words.LIMIT_SOURCE.get(source, source) for source in sources)
    return bounded("; ".join(said), 2 * LINE) or DASH


def server_block(record: Record) -> Pairs:
    """Return the far end and who runs it."""
    label, server = words.LABEL, record.server
    if server is None:
        return Pairs(title=label["server"], pairs=())
    operator = server.card.get("operator")
    named = (
        (label["server"], server.id),
        (label["run_by"], operator if isinstance(operator, str) else None),
        (label["program"], server.software),
        (label["turn"], quantity(server.waited_s, "s") if server.waited_s else None),
    )
    pairs = tuple(Pair(label=name, value=bounded(value)) for name, value in named if value)
    return Pairs(title=label["server"], pairs=pairs)


def practice_block(record: Record, most: int = MOST_TRUTHS) -> Pairs:
    """Return what a practice network played."""
    practice = record.practice
    if practice is None:
        return Pairs(title=words.LABEL["practice"], pairs=())
    fault = practice.fault or words.NO_FAULT
    played = f"{fault}, {practice.severity}" if practice.severity else fault
    truth = tuple(
        Pair(
            label=words.TRUTH.get(name) or bounded(bare_name(name), 20),
            value=_truth(name, value),
        )
        for name, value in list(practice.truth.items())[:most]
    )
    pairs = (Pair(label=words.LABEL["fault"], value=bounded(played)), *truth)
    left = len(practice.truth) - most
    return Pairs(title=words.LABEL["practice"], pairs=pairs, more=more(left))


def _truth(name: str, value: Scalar) -> str:
    """Return a value of the truth; what the page has words for is put into them."""
    table = {"segment": words.SEGMENT_IN_LINE, "layer": words.LAYER}.get(name)
    known = table.get(value) if table is not None and isinstance(value, str) else None
    return known or value_text(name, value)
