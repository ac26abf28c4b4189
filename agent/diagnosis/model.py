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
class WalkSegments:
    """The segment of each hop of one walk, in the order of its statistics' hops."""

    measurement: str
    hops: tuple[Segment, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Translation:
    """What is inferred of address translation over IPv4.

    `translated` tells that the server saw another address than the laptop holds, `home_routers` how
    many routers of the home answered the walk, `shared` that the address held is one that several
    customers share (RFC 6598).
    """

    translated: bool
    home_routers: int = 0
    shared: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Diagnosis:
    """The segment of the first finding, and all findings, most confident first.

    `walks` says what each hop of each walk was taken for, `translation` who translates addresses,
    None where that cannot be told.
    """

    segment: Segment
    findings: tuple[Finding, ...] = ()
    walks: tuple[WalkSegments, ...] = ()
    translation: Translation | None = None

    def segments_of(self, measurement: str) -> tuple[Segment, ...]:
        """Return the segments of a walk's hops, none where it was not placed."""
        found = (walk.hops for walk in self.walks if walk.measurement == measurement)
        return next(found, ())
