"""The record of one visit: what was asked, what was observed, what was concluded."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from agent.assessment.difference import Difference
from agent.assessment.model import Assessment
from agent.diagnosis.model import Diagnosis
from agent.measurements import Conditions, LaptopCheck, Measurement, Scalar, Statistics

RECORD_VERSION = 1


@dataclass(frozen=True, slots=True, kw_only=True)
class AgentFacts:
    """What program on what computer measured.

    `unverified_system` names the operating system where the program was never tried on a real one.
    `device_id` is the laptop's own number by chance, `laptop_check` its own check of the port under
    test, as that was at the visit.
    """

    version: str
    platform: str
    python: str
    device_id: str | None = None
    laptop_check: LaptopCheck | None = None
    unverified_system: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Consent:
    """The yes to filling the line: how it was given, when (seconds into the visit)."""

    given: bool
    how: str
    at_s: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Reading:
    """What a person read by meter or from the equipment's own page; no judgement rests on it.

    `where` and `what` are codes of `measurements.by_hand`, `value` is in `unit`: "dBmV", "dB",
    "dBm", "Mbit/s", "ratio" or "count". The usual range as the settings had it, ends included: an
    end that is None is open, both None with `source` None that no range is known.
    """

    where: str
    what: str
    value: float
    unit: str
    usual_low: float | None = None
    usual_high: float | None = None
    source: str | None = None

    @property
    def within_usual(self) -> bool | None:
        """Return whether the value lies in the usual range, None where none is known."""
        if self.usual_low is None and self.usual_high is None:
            return None
        above = self.usual_low is None or self.value >= self.usual_low
        return above and (self.usual_high is None or self.value <= self.usual_high)


@dataclass(frozen=True, slots=True, kw_only=True)
class Visit:
    """The circumstances that the technician states."""

    purpose: str = "installation"
    spot: str | None = None
    plugged_into: str = "unknown"
    access: str = "unknown"
    handover: str = "dhcp"
    nothing_else_on: bool | None = None
    previous: str | None = None
    interface: str | None = None
    plan: str = "standard"
    consent: Consent | None = None
    readings: tuple[Reading, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Private:
    """Identity, kept apart so that a redacted record still proves what was measured."""

    work_order: str | None = None
    technician: str | None = None
    company: str | None = None
    premises: str | None = None
    contact: str | None = None
    equipment: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class TierFacts:
    """The tier as it was judged: rates in bit/s at `layer`, accept as ratios."""

    name: str
    down_bps: int
    up_bps: int
    layer: str
    accept_down: float
    accept_up: float
    provisioned: float | None = None
    minimum_down_bps: int | None = None
    minimum_up_bps: int | None = None
    normal_down_bps: int | None = None
    normal_up_bps: int | None = None
    maximum_down_bps: int | None = None
    maximum_up_bps: int | None = None
    advertised_down_bps: int | None = None
    advertised_up_bps: int | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class ServerFacts:
    """The operator's server as it described itself; receipts are its own counts.

    `card_after` is its card read again after the transfers, empty where that was not possible;
    `waited_s` how long the visit waited for its turn there, None where the record does not say.
    `card_fault` is the code of why its card could not be read.
    """

    id: str | None = None
    software: str | None = None
    url: str | None = None
    seen_address: str | None = None
    card: Mapping[str, object] = field(default_factory=dict)
    receipts: tuple[Mapping[str, object], ...] = ()
    card_after: Mapping[str, object] = field(default_factory=dict)
    waited_s: float | None = None
    card_fault: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Measured:
    """A measurement beside its statistics."""

    measurement: Measurement
    statistics: Statistics | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class PracticeTruth:
    """What the practice network really was; added after the visit has ended."""

    fault: str | None
    severity: str | None
    truth: Mapping[str, Scalar]


@dataclass(frozen=True, slots=True, kw_only=True)
class Change:
    """A circumstance that was not the same at both visits: tier, spot, plugged-into or port."""

    what: str
    then: str | None
    now: str | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Since:
    """How a visit compares with an earlier one; a comment that decides nothing.

    `compared` is how many figures both have, `differences` those that lie apart, `changes` the
    circumstances that were not the same.
    """

    record_id: str
    started: str
    utc_offset_min: int = 0
    compared: int = 0
    differences: tuple[Difference, ...] = ()
    changes: tuple[Change, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Record:
    """One visit; `started` and `finished` are RFC 3339 UTC, inner times seconds from started."""

    record_id: str
    started: str
    finished: str
    utc_offset_min: int
    agent: AgentFacts
    visit: Visit
    private: Private
    plan: tuple[str, ...]
    settings_sha256: str
    assessment: Assessment
    diagnosis: Diagnosis
    tier: TierFacts | None = None
    server: ServerFacts | None = None
    conditions: tuple[Conditions, ...] = ()
    measured: tuple[Measured, ...] = ()
    practice: PracticeTruth | None = None
    notes: tuple[str, ...] = ()
    since: Since | None = None
    record_version: int = RECORD_VERSION


@dataclass(frozen=True, slots=True, kw_only=True)
class StoredRecord:
    """A sealed document beside its typed view; members this version does not know stay in it.

    In `document` every address is a token; `record` shows the addresses while `private` is there.
    """

    document: Mapping[str, object]
    record: Record

    @property
    def sha256(self) -> str:
        """Return the hash that the document states, empty where it states none."""
        block = self.document.get("integrity")
        stated = block.get("sha256") if isinstance(block, Mapping) else None
        return stated if isinstance(stated, str) else ""

    @property
    def redacted(self) -> bool:
        """Return True where identity and addresses were removed."""
        return "private" not in self.document
