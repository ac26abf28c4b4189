"""From the facts of a visit to ranked findings."""

from __future__ import annotations

from dataclasses import replace

from agent.assessment.model import Verdict
from agent.diagnosis.calibration import calibrated
from agent.diagnosis.facts import Facts
from agent.diagnosis.model import Diagnosis, Finding, Segment
from agent.diagnosis.rule import Rule
from agent.diagnosis.surroundings import walk_segments
from agent.diagnosis.table import RULES
from agent.diagnosis.translation import translation_of

_UNTRIED = 0.4
"""The most that a fault outside the laptop is believed on a system the program never ran on."""

_OWN = (Segment.LAPTOP, Segment.NONE)


def diagnose(facts: Facts) -> Diagnosis:
    """Return the findings, most confident first; those that another explains are left out.

    Advice, which places no fault, comes after every fault. Equal confidence keeps the order of the
    table: the nearest fault first. Without a finding the segment is `none` where traffic was seen
    to pass, else `undetermined`.
    """
    findings = sorted(_findings(facts), key=lambda f: (f.segment is Segment.NONE, -f.confidence))
    return Diagnosis(
        segment=findings[0].segment if findings else _without_finding(facts),
        findings=tuple(findings),
        walks=walk_segments(facts.evidence, facts.around),
        translation=translation_of(facts),
    )


def _without_finding(facts: Facts) -> Segment:
    seen = facts.passes() or facts.assessment.verdict is Verdict.MEETS
    return Segment.NONE if seen else Segment.UNDETERMINED


def _findings(facts: Facts) -> list[Finding]:
    hidden: set[str] = set()
    found: list[Finding] = []
    for rule in RULES:
        if rule.code in hidden:
            continue
        finding = rule.apply(facts)
        if finding is not None:
            found.append(_believed(facts, rule, finding))
            hidden |= rule.hides
    return found


def _believed(facts: Facts, rule: Rule, finding: Finding) -> Finding:
    """Return a finding as sure as played faults make it, and the program may be on this system."""
    sure = calibrated(rule, finding.confidence)
    finding = replace(finding, confidence=sure)
    if finding.segment in _OWN or facts.fitness("unverified_system") is None:
        return finding
    return replace(finding, confidence=min(finding.confidence, _UNTRIED))
