"""The lists of sentences: findings, fitness, and what was not measured and why."""

from __future__ import annotations

from agent.record import Finding, FitnessFact, Reason, Record, Segment, State
from agent.sheet.catalogue import findings as said
from agent.sheet.catalogue import words
from agent.sheet.model import Listing
from agent.sheet.wording import (
    SENTENCE,
    bounded,
    cause_phrase,
    finding_sentence,
    fitness_phrase,
    likelihood,
    more,
    subject,
    word,
)

EVERYTHING = "all"
OTHERS, OTHERS_CODE = "others_on", "others-on"
MOST_ITEMS, MOST_MISSING = 4, 4
MOST_IN_DETAIL = 20


def listings(record: Record) -> tuple[Listing, ...]:
    """Return findings, fitness and what was not measured, as the first sheet has room for them."""
    return (
        _findings(record, MOST_ITEMS),
        _fitness(record, MOST_ITEMS),
        _missing(record, MOST_MISSING),
    )


def longer_listings(record: Record) -> tuple[Listing, ...]:
    """Return those lists of which the first sheet leaves something out."""
    lists = ((_findings, MOST_ITEMS), (_fitness, MOST_ITEMS), (_missing, MOST_MISSING))
    return tuple(made(record, MOST_IN_DETAIL) for made, most in lists if made(record, most).more)


def _findings(record: Record, most: int) -> Listing:
    found = record.diagnosis.findings
    none = (
        said.FINDINGS_NONE if record.diagnosis.segment is Segment.NONE else said.FINDINGS_TOO_LITTLE
    )
    return Listing(
        title=words.LABEL["findings"],
        items=tuple(map(_finding, found[:most])) or (none,),
        more=more(len(found) - most),
    )


def _finding(finding: Finding) -> str:
    sentence = finding_sentence(finding.code, finding.values)
    if finding.segment is Segment.NONE:
        return said.ADVICE.format(finding=sentence)
    place = words.SEGMENT_IN_LINE.get(finding.segment) or word(words.SEGMENT, finding.segment)
    return f"{likelihood(finding.confidence)}, {place}: {sentence}"


def _fitness(record: Record, most: int) -> Listing:
    found = record.assessment.fitness
    items = []
    for fact in found[:most]:
        voids = ", ".join(word(words.VOIDS, name) for name in fact.voids[:4])
        phrase = fitness_phrase(fact.name, fact.measured, fact.unit)
        line = words.FITNESS_LINE if _voided(record, fact) else words.FITNESS_KEPT
        line = line if voids else words.FITNESS_NOTED
        items.append(line.format(fact=phrase[:1].upper() + phrase[1:], voids=voids))
    return Listing(
        title=words.LABEL["fitness"],
        items=tuple(items) or (words.FITNESS_NONE,),
        more=more(len(found) - most),
    )


def _voided(record: Record, fact: FitnessFact) -> bool:
    """Return True where a fact kept anything from being judged, as a fact of the whole visit does.

    What makes a laptop unfit voids a missed criterion only if it could account for it, never a
    met one.
    """
    reasons = [c.reason for c in record.assessment.criteria if c.reason is not None]
    told = any(reason.values.get("fact") == fact.name for reason in reasons)
    others = fact.name == OTHERS and any(reason.code.startswith(OTHERS_CODE) for reason in reasons)
    return told or others or EVERYTHING in fact.voids


def _missing(record: Record, most: int) -> Listing:
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
        items=items[:most] or (words.NOT_MEASURED_NONE,),
        more=more(len(items) - most),
    )
