"""The verdict in words, its one-line reason, and the step that follows."""

from __future__ import annotations

from agent.record import Criterion, Finding, Kind, LinkStatistics, Record, Verdict
from agent.sheet.bars import MARKS, bound_text, criterion_text, label_of
from agent.sheet.catalogue import areas, customer, findings, words
from agent.sheet.model import Headline, NextStep, Pair
from agent.sheet.numbers import DASH, plain_rate, port_speed
from agent.sheet.pick import first
from agent.sheet.said import NOTES
from agent.sheet.wording import (
    SENTENCE,
    bounded,
    finding_sentence,
    reason_sentence,
    step_texts,
    word,
)

MOST_MISSED = 2


def build_headline(record: Record) -> Headline:
    """Return the verdict, why, and what it rests on."""
    verdict = record.assessment.verdict
    return Headline(
        mark=MARKS[verdict],
        verdict=words.VERDICT[verdict],
        reason=bounded(_REASON[verdict](record), 2 * SENTENCE),
        beside=_beside(record),
    )


def build_next_step(record: Record) -> NextStep:
    """Return the step of the first finding, or what the verdict itself asks for."""
    text, caution = _step(record)
    return NextStep(title=words.NEXT_STEP, text=text, caution=caution, plain=_plain(record))


def port_text(record: Record) -> str:
    """Return medium, speed and duplex of the port under test."""
    link = first(record, LinkStatistics, Kind.LINK)
    if link is None:
        return DASH
    if not link.up:
        return words.STRIP_PORT_DOWN
    parts = [word(words.MEDIUM, link.medium)]
    if link.speed_bps:
        parts.append(port_speed(link.speed_bps))
    if link.duplex:
        parts.append(_duplex(link.duplex))
    return ", ".join(parts)


def _duplex(code: str) -> str:
    return words.DUPLEX.get(code) or words.DUPLEX_OTHER.format(code=bounded(code, 12))


def tier_text(record: Record) -> str:
    """Return the product sold with its rates."""
    tier = record.tier
    if tier is None:
        return words.NONE_GIVEN
    down, up = plain_rate(tier.down_bps), plain_rate(tier.up_bps)
    return f"{bounded(tier.name)}: {down} / {up} Mbit/s"


def _beside(record: Record) -> tuple[Pair, ...]:
    label, visit = words.LABEL, record.visit
    return (
        Pair(label=label["tier"], value=tier_text(record)),
        Pair(label=label["plugged_into"], value=word(words.PLUGGED, visit.plugged_into)),
        Pair(label=label["port"], value=port_text(record)),
        Pair(label=label["nothing_else_on"], value=words.STATED[visit.nothing_else_on]),
    )


def _deciding(record: Record, outcome: Verdict) -> list[Criterion]:
    """Return the needed criteria with that outcome, the deciding ones first."""
    names = record.assessment.deciding
    found = [c for c in record.assessment.criteria if c.needed and c.outcome is outcome]
    return sorted(found, key=lambda c: names.index(c.name) if c.name in names else len(names))


def _why_meets(record: Record) -> str:
    needed = [c for c in record.assessment.criteria if c.needed]
    if any(c.at_least for c in needed):
        return words.REASON_MEETS_PORT
    return words.REASON_MEETS.format(count=len(needed))


def _why_below(record: Record) -> str:
    missed = _deciding(record, Verdict.BELOW)
    if record.diagnosis.findings and any(c.name in words.YES_NO for c in missed[:1]):
        return _first_finding(record)
    return " ".join(_missed(c) for c in missed[:MOST_MISSED]) or _first_finding(record)


def _missed(criterion: Criterion) -> str:
    text = criterion_text(criterion)
    if text is None or criterion.limit is None or criterion.unit == "count":
        return f"{label_of(criterion)}: {_why_missed(criterion)}"
    return words.REASON_MISSED.format(
        label=label_of(criterion),
        value=text.value,
        bound=words.BOUND[criterion.sense],
        limit=bound_text(criterion, text)[2:],
    )


def _why_missed(criterion: Criterion) -> str:
    if criterion.reason is not None:
        return reason_sentence(criterion.reason)
    return words.YES_NO.get(criterion.name, {}).get(False, words.OUTCOME["below"]) + "."


def _why_open(record: Record) -> str:
    for criterion in _deciding(record, Verdict.NOT_PROVEN):
        if criterion.reason is not None:
            return f"{label_of(criterion)}: {reason_sentence(criterion.reason)}"
    if record.assessment.deciding and record.assessment.deciding[0] in words.REASON:
        return words.REASON[record.assessment.deciding[0]]
    return _first_finding(record)


def _first_finding(record: Record) -> str:
    for finding in _leading(record):
        return finding_sentence(finding.code, finding.values)
    return words.REASON_NOTHING


_REASON = {
    Verdict.MEETS: _why_meets,
    Verdict.BELOW: _why_below,
    Verdict.NOT_PROVEN: _why_open,
}


def _leading(record: Record) -> tuple[Finding, ...]:
    """Return the first finding, unless it leaves nothing to do."""
    return tuple(f for f in record.diagnosis.findings[:1] if f.code not in NOTES)


def _plain(record: Record) -> Pair | None:
    """Return what the first finding means for the customer."""
    said = next((customer.SAID.get(f.code, "") for f in record.diagnosis.findings), "")
    return Pair(label=customer.TITLE, value=said) if said else None


def _step(record: Record) -> tuple[str, str]:
    for finding in _leading(record):
        return step_texts(finding.next_step)
    if record.assessment.verdict is Verdict.MEETS:
        return findings.STEP_MEETS, ""
    if record.assessment.verdict is Verdict.BELOW:
        return findings.STEP_BELOW, ""
    codes = [c.reason.code for c in _deciding(record, Verdict.NOT_PROVEN) if c.reason]
    for code in (*record.assessment.deciding, *codes):
        step = findings.STEP_BY_REASON.get(code)
        if step is not None:
            return areas.STEP.get(step, (step, ""))
    return findings.STEP_UNPROVEN, ""
