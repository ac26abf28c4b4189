"""Picking measurements out of a record by the type of their statistics."""

from __future__ import annotations

from typing import TypeVar

from agent.record import (
    DelayStatistics,
    DnsStatistics,
    FamilyStatistics,
    HttpStatistics,
    Kind,
    LeaseStatistics,
    LinkStatistics,
    Measurement,
    PathStatistics,
    ReachStatistics,
    Record,
    Role,
    ThroughputStatistics,
)

S = TypeVar(
    "S",
    DelayStatistics,
    DnsStatistics,
    FamilyStatistics,
    HttpStatistics,
    LeaseStatistics,
    LinkStatistics,
    PathStatistics,
    ReachStatistics,
    ThroughputStatistics,
)


def picked(record: Record, wanted: type[S], kind: Kind) -> list[tuple[Measurement, S]]:
    """Return the measurements of a kind that have statistics, in the order of the record."""
    return [
        (one.measurement, one.statistics)
        for one in record.measured
        if one.measurement.kind is kind and isinstance(one.statistics, wanted)
    ]


def first(record: Record, wanted: type[S], kind: Kind) -> S | None:
    """Return the first statistics of a kind, None where there are none."""
    return next((statistics for _, statistics in picked(record, wanted, kind)), None)


def idle_delay(record: Record, role: Role) -> DelayStatistics | None:
    """Return the delay towards a role without the agent's own load."""
    found = picked(record, DelayStatistics, Kind.DELAY)
    return next((s for m, s in found if m.role is role and s.load == "none"), None)
