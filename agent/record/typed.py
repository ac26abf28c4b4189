"""Between the frozen values of a record and its document, member by member.

A measurement and its statistics stand in one object of the document; its `kind` tells their types.
"""

from __future__ import annotations

import dataclasses
from collections.abc import Mapping
from enum import Enum
from functools import cache
from typing import TYPE_CHECKING, Any

from agent.errors import RecordError
from agent.measurements import (
    DelayStatistics,
    DnsStatistics,
    EchoSeries,
    FamilyLook,
    FamilyStatistics,
    HopWalk,
    HttpStatistics,
    Kind,
    LeaseFacts,
    LeaseStatistics,
    LinkFacts,
    LinkStatistics,
    Measurement,
    NameQueries,
    PathStatistics,
    ReachLook,
    ReachStatistics,
    ThroughputStatistics,
    Transfer,
    WebAccess,
    WebAccessStatistics,
    WebFetch,
)
from agent.record.model import Measured, Private, Record

if TYPE_CHECKING:
    from pydantic import TypeAdapter

OBSERVED: dict[Kind, Any] = {
    Kind.LINK: LinkFacts,
    Kind.LEASE: LeaseFacts,
    Kind.DNS: NameQueries,
    Kind.DELAY: EchoSeries,
    Kind.PATH: HopWalk,
    Kind.HTTP: WebFetch | WebAccess | FamilyLook,
    Kind.REACH: ReachLook,
    Kind.THROUGHPUT: Transfer,
}
STATISTICS: dict[Kind, Any] = {
    Kind.LINK: LinkStatistics,
    Kind.LEASE: LeaseStatistics,
    Kind.DNS: DnsStatistics,
    Kind.DELAY: DelayStatistics,
    Kind.PATH: PathStatistics,
    Kind.HTTP: HttpStatistics | FamilyStatistics | WebAccessStatistics,
    Kind.REACH: ReachStatistics,
    Kind.THROUGHPUT: ThroughputStatistics,
}


def document_of(record: Record) -> dict[str, object]:
    """Return the open document of a record: JSON values, addresses as they are, no integrity."""
    document: dict[str, object] = {"record_version": record.record_version}
    document.update(
        (field.name, _json(getattr(record, field.name)))
        for field in dataclasses.fields(record)
        if field.name not in {"record_version", "measured"}
    )
    document["measurements"] = [_measured_document(one) for one in record.measured]
    return document


def record_of(document: Mapping[str, object], path: str) -> Record:
    """Return the typed view of an open document; members unknown to this version are passed over.

    Raises RecordError naming the member that is missing or wrong.
    """
    from pydantic import ValidationError  # noqa: PLC0415 - heavy, and only reading needs it

    try:
        known = {**document, "measured": _measured(document.get("measurements"))}
        known.setdefault("private", Private())
        record: Record = _adapter(Record).validate_python(known)
    except ValidationError as error:
        fault = error.errors(include_url=False, include_input=False)[0]
        where = ".".join(str(part) for part in fault["loc"]) or "the document"
        raise RecordError(
            path=path,
            problem=f"the member {where} is wrong ({fault['msg']})",
            remedy="Use the file as the visit wrote it.",
        ) from error
    return record


def measurement_document(measurement: Measurement) -> dict[str, object]:
    """Return one measurement as JSON values, without statistics."""
    document: dict[str, object] = _json(measurement)
    return document


def measurement_of(document: Mapping[str, object]) -> Measurement:
    """Return the measurement of a document; raises RecordError where it is none."""
    from pydantic import ValidationError  # noqa: PLC0415 - heavy, and only reading needs it

    try:
        return _one_measured(dict(document)).measurement
    except ValidationError as error:
        raise RecordError(
            path="a measurement", problem="a member is wrong", remedy="Measure again."
        ) from error


def _measured_document(one: Measured) -> dict[str, object]:
    return {**_json(one.measurement), "statistics": _json(one.statistics)}


def _json(value: Any) -> Any:
    if dataclasses.is_dataclass(value):
        return {f.name: _json(getattr(value, f.name)) for f in dataclasses.fields(value)}
    if isinstance(value, Enum):
        return value.value
    if isinstance(value, tuple | list):
        return [_json(item) for item in value]
    if isinstance(value, Mapping):
        return {str(name): _json(item) for name, item in value.items()}
    return value


def _measured(measurements: object) -> tuple[Measured, ...]:
    entries: tuple[dict[str, Any], ...]
    entries = _adapter(tuple[dict[str, Any], ...]).validate_python(measurements)
    return tuple(_one_measured(entry) for entry in entries)


def _one_measured(entry: dict[str, Any]) -> Measured:
    kind: Kind = _adapter(Kind).validate_python(entry.get("kind"))
    observed = _optional(OBSERVED[kind], entry.get("observed"))
    measurement: Measurement = _adapter(Measurement).validate_python(
        {**entry, "observed": observed}
    )
    return Measured(
        measurement=measurement, statistics=_optional(STATISTICS[kind], entry.get("statistics"))
    )


def _optional(wanted: Any, value: object) -> Any:
    return None if value is None else _adapter(wanted).validate_python(value)


@cache
def _adapter(wanted: Any) -> TypeAdapter[Any]:
    from pydantic import TypeAdapter  # noqa: PLC0415 - heavy, and only reading needs it

    return TypeAdapter(wanted)
