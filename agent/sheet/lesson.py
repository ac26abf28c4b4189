"""What a trainee is told after the answers: right or not, what was played, and the evidence."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from agent.record import Finding, Record, Segment, Verdict
from agent.sheet.catalogue import training as said
from agent.sheet.catalogue import words
from agent.sheet.headline import build_headline
from agent.sheet.model import Listing
from agent.sheet.numbers import fixed
from agent.sheet.training_evidence import evidence_of
from agent.sheet.wording import bounded, finding_sentence, likelihood, step_texts, word

MOST_FINDINGS = 6


@dataclass(frozen=True, slots=True, kw_only=True)
class Taught:
    """What was played and what the trainee said of it, in the names of the catalogue.

    `fault` None is nothing wrong, `findings` are the codes that name it. An answer None was not
    given. `command` plays it again in the open.
    """

    fault: str | None
    severity: str
    sentence: str
    segment: str
    findings: tuple[str, ...]
    part_said: str | None
    fault_said: str | None
    part_right: bool | None
    fault_right: bool | None
    command: str


def lesson_of(record: Record, taught: Taught) -> tuple[Listing, ...]:
    """Return what is told, in the order of reading."""
    naming = [f for f in record.diagnosis.findings if f.code in taught.findings]
    return (
        Listing(title=said.ANSWERS, items=(_part(taught), _fault(taught))),
        Listing(title=said.PLAYED, items=(_played(taught), _again(taught))),
        Listing(title=said.SAID, items=tuple(_said(record, taught, naming))),
        *_evidence(record, taught, naming),
        *_steps(naming),
    )


def _part(taught: Taught) -> str:
    answer = taught.part_said
    given = word(said.PART, answer) if answer else ""
    return _judged(taught.part_right, given, word(said.PART, taught.segment))


def _fault(taught: Taught) -> str:
    truth = taught.fault or said.NOTHING_PLAYED
    given = said.NOTHING_PLAYED if taught.fault_said == "none" else taught.fault_said or ""
    return _judged(taught.fault_right, given, truth)


def _judged(right: bool | None, given: str, truth: str) -> str:
    template = {True: said.RIGHT, False: said.WRONG, None: said.UNANSWERED}[right]
    return template.format(said=given, truth=truth)


def _played(taught: Taught) -> str:
    if taught.fault is None:
        return said.NOTHING
    return said.PLAYED_FAULT.format(
        name=taught.fault, severity=taught.severity, sentence=taught.sentence
    )


def _again(taught: Taught) -> str:
    return said.AGAIN_WITH.format(command=taught.command)


def _said(record: Record, taught: Taught, naming: list[Finding]) -> Iterable[str]:
    findings = record.diagnosis.findings
    yield _verdict(record)
    yield from map(finding_line, findings[:MOST_FINDINGS])
    if taught.fault is None and any(f.segment is not Segment.NONE for f in findings):
        yield said.FALSE_ALARM
    elif taught.fault is not None and not taught.findings:
        yield said.HARMLESS
    elif taught.fault is not None and not naming:
        yield said.UNNAMED
    elif naming and all(f.segment != taught.segment for f in naming):
        yield said.OTHER_PLACE


def finding_line(finding: Finding) -> str:
    """Return a finding with its confidence as a number, its place and what it says."""
    sentence = finding_sentence(finding.code, finding.values)
    if finding.segment is Segment.NONE:
        return said.ADVICE.format(sentence=sentence)
    return said.FINDING.format(
        likelihood=likelihood(finding.confidence),
        confidence=fixed(finding.confidence, 2),
        place=word(words.SEGMENT_IN_LINE, finding.segment),
        sentence=sentence,
    )


def _verdict(record: Record) -> str:
    head = build_headline(record)
    return said.WHY.format(verdict=head.verdict, reason=head.reason)


def _evidence(record: Record, taught: Taught, naming: list[Finding]) -> Iterable[Listing]:
    for finding in naming:
        sentence = finding_sentence(finding.code, finding.values)
        title = said.EVIDENCE.format(sentence=sentence)
        yield Listing(title=title, items=evidence_of(record, finding))
    if taught.fault is None:
        yield Listing(title=said.SOUND, items=_kept(record))


def _kept(record: Record) -> tuple[str, ...]:
    """Return what was promised and kept, in words."""
    kept = [c for c in record.assessment.criteria if c.needed and c.outcome is Verdict.MEETS]
    names = ", ".join(word(words.CRITERION, c.name) for c in kept)
    return (bounded(f"{words.OUTCOME['meets']}: {names}.", 600),) if kept else (said.EVIDENCE_NONE,)


def _steps(naming: list[Finding]) -> Iterable[Listing]:
    texts = [step_texts(finding.next_step) for finding in naming]
    items = [text for pair in dict.fromkeys(texts) for text in pair if text]
    if items:
        yield Listing(title=said.STEP, items=tuple(items))
