"""Everything below the top third: tables, facts and lists, each bounded."""

from __future__ import annotations

from datetime import datetime, timedelta, timezone

from agent.record import (
    DnsStatistics,
    Finding,
    HttpStatistics,
    Kind,
    Measurement,
    Reason,
    Record,
    Segment,
    State,
    ThroughputStatistics,
)
from agent.sheet.address_rows import address_block
from agent.sheet.catalogue import findings as sentences
from agent.sheet.catalogue import words
from agent.sheet.delays import delay_table
from agent.sheet.model import Listing, Pair, Pairs, Table
from agent.sheet.numbers import DASH, number, quantity, with_unit
from agent.sheet.path_rows import path_block
from agent.sheet.pick import picked
from agent.sheet.rates import rate_table
from agent.sheet.wording import (
    LINE,
    SENTENCE,
    SHORT,
    bare_name,
    bounded,
    cause_phrase,
    finding_sentence,
    fitness_phrase,
    likelihood,
    more,
    subject,
    value_text,
    word,
)

MOST_ITEMS, MOST_MISSING = 4, 6
MOST_TRUTHS = 12
MEGA = 1e6


def tables(record: Record) -> tuple[Table, ...]:
    """Return the tables of delay and rate that have rows."""
    made = (delay_table(record), rate_table(record))
    return tuple(table for table in made if table.rows)


def side_tables(record: Record) -> tuple[Table, ...]:
    """Return the tables of names and web that have rows."""
    return tuple(table for table in (_dns(record), _web(record)) if table.rows)


def facts(record: Record) -> tuple[Pairs, ...]:
    """Return the blocks of facts: address and port, path, visit, server, practice."""
    made = (
        address_block(record),
        path_block(record),
        _visit(record),
        _server(record),
        _practice(record),
    )
    return tuple(block for block in made if block.pairs)


def listings(record: Record) -> tuple[Listing, ...]:
    """Return findings, fitness and what was not measured."""
    return (_findings(record), _fitness(record), _missing(record))


def local_time(record: Record) -> str:
    """Return when the visit began, local time with its offset."""
    return local_time_of(record.started, record.utc_offset_min)


def local_time_of(started: str, utc_offset_min: int) -> str:
    """Return a moment of a record as local time with its offset."""
    try:
        zone = timezone(timedelta(minutes=max(-1439, min(1439, utc_offset_min))))
        began = datetime.fromisoformat(started).astimezone(zone)
    except (ValueError, OverflowError):
        return bounded(started, SHORT)
    offset = began.strftime("%z")
    return f"{began:%Y-%m-%d %H:%M:%S} (UTC{offset[:3]}:{offset[3:]})"


def _dns(record: Record) -> Table:
    found = picked(record, DnsStatistics, Kind.DNS)
    rows = tuple(
        (
            _resolver(m, s),
            f"{s.answered} of {s.sent}",
            number(s.median_ms, "ms"),
            number(s.p95_ms, "ms"),
        )
        for m, s in found[:MOST_ITEMS]
    )
    return Table(
        title=words.LABEL["dns"], head=words.HEAD_DNS, rows=rows, more=more(len(found) - MOST_ITEMS)
    )


def _resolver(measurement: Measurement, statistics: DnsStatistics) -> str:
    """Return the resolver's address, or its name and what carries the queries."""
    named = str(getattr(measurement.observed, "resolver", DASH))
    over = words.OVER.get(statistics.transport)
    return bounded(measurement.address or named if over is None else f"{named} {over}", SHORT)


def _web(record: Record) -> Table:
    found = picked(record, HttpStatistics, Kind.HTTP)
    rows = tuple(
        (
            bounded(getattr(m.observed, "target", m.address or DASH), SHORT),
            DASH if s.status is None else str(s.status),
            number(s.first_byte_ms, "ms"),
            number(s.total_ms, "ms"),
        )
        for m, s in found[:MOST_ITEMS]
    )
    return Table(
        title=words.LABEL["web"], head=words.HEAD_WEB, rows=rows, more=more(len(found) - MOST_ITEMS)
    )


def _visit(record: Record) -> Pairs:
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
        Pair(label=label["moved"], value=_moved(record)),
        Pair(label=label["rule"], value=word(words.RULE, record.assessment.rule)),
        Pair(label=label["limits"], value=_limits(record)),
    ]
    return Pairs(title=label["visit"], pairs=tuple(pairs))


def _took(record: Record) -> str:
    try:
        began, ended = (datetime.fromisoformat(t) for t in (record.started, record.finished))
        return quantity(max(0.0, (ended - began).total_seconds()), "s")
    except (ValueError, TypeError):
        return DASH


def _moved(record: Record) -> str:
    transfers = picked(record, ThroughputStatistics, Kind.THROUGHPUT)
    return with_unit(number(sum(s.bytes for _, s in transfers) / MEGA, "count"), "MB")


def _limits(record: Record) -> str:
    sources = dict.fromkeys(c.limit_source for c in record.assessment.criteria if c.limit_source)
    return bounded("; ".join(sources), 2 * LINE) or DASH


def _server(record: Record) -> Pairs:
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


def _practice(record: Record) -> Pairs:
    practice = record.practice
    if practice is None:
        return Pairs(title=words.LABEL["practice"], pairs=())
    fault = practice.fault or words.NO_FAULT
    played = f"{fault}, {practice.severity}" if practice.severity else fault
    truth = tuple(
        Pair(
            label=words.TRUTH.get(name) or bounded(bare_name(name), 20),
            value=value_text(name, value),
        )
        for name, value in list(practice.truth.items())[:MOST_TRUTHS]
    )
    pairs = (Pair(label=words.LABEL["fault"], value=bounded(played)), *truth)
    left = len(practice.truth) - MOST_TRUTHS
    return Pairs(title=words.LABEL["practice"], pairs=pairs, more=more(left))


def _findings(record: Record) -> Listing:
    findings = record.diagnosis.findings
    items = tuple(map(_finding, findings[:MOST_ITEMS]))
    none = (
        sentences.FINDINGS_NONE
        if record.diagnosis.segment == "none"
        else sentences.FINDINGS_TOO_LITTLE
    )
    return Listing(
        title=words.LABEL["findings"], items=items or (none,), more=more(len(findings) - MOST_ITEMS)
    )


def _finding(finding: Finding) -> str:
    said = finding_sentence(finding.code, finding.values)
    if finding.segment is Segment.NONE:
        return sentences.ADVICE.format(finding=said)
    place = word(words.SEGMENT, finding.segment).lower()
    return f"{likelihood(finding.confidence)}, {place}: {said}"


def _fitness(record: Record) -> Listing:
    found = record.assessment.fitness
    items = []
    for fact in found[:MOST_ITEMS]:
        voids = ", ".join(word(words.VOIDS, name) for name in fact.voids[:4])
        phrase = fitness_phrase(fact.name, fact.measured, fact.unit)
        line = words.FITNESS_LINE if voids else words.FITNESS_NOTED
        items.append(line.format(fact=phrase[:1].upper() + phrase[1:], voids=voids))
    return Listing(
        title=words.LABEL["fitness"],
        items=tuple(items) or (words.FITNESS_NONE,),
        more=more(len(found) - MOST_ITEMS),
    )


def _missing(record: Record) -> Listing:
    lines: dict[str, list[str]] = {}
    for one in record.measured:
        if one.measurement.state is not State.COMPLETE:
            reason = one.measurement.reason or Reason(code="unexpected")
            lines.setdefault(cause_phrase(reason), []).append(subject(one.measurement))
    items = tuple(
        words.NOT_MEASURED.format(what=bounded(", ".join(dict.fromkeys(what)), SENTENCE), why=why)
        for why, what in lines.items()
    )
    return Listing(
        title=words.LABEL["missing"],
        items=items[:MOST_MISSING] or (words.NOT_MEASURED_NONE,),
        more=more(len(items) - MOST_MISSING),
    )
