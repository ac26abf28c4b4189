"""Where the fault is: findings ranked by confidence, each with evidence and a next step."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from enum import StrEnum

from agent.measurements import Scalar


class Segment(StrEnum):
    """The parts of the way, from the laptop outwards."""

    NONE = "none"
    LAPTOP = "laptop"
    HOME = "home"
    MODEM = "modem"
    ACCESS = "access"
    OPERATOR = "operator"
    BEYOND = "beyond"
    UNDETERMINED = "undetermined"


@dataclass(frozen=True, slots=True, kw_only=True)
class Finding:
    """One finding: a code of ours with typed values; the words belong to the sheet."""

    code: str
    segment: Segment
    confidence: float
    next_step: str
    evidence: tuple[str, ...] = ()
    values: Mapping[str, Scalar] = field(default_factory=dict)


@dataclass(frozen=True, slots=True, kw_only=True)
class Diagnosis:
    """The segment of the first finding, and all findings, most confident first."""

    segment: Segment
    findings: tuple[Finding, ...] = ()
