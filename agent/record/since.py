"""What differs between a visit and an earlier one: a comment on both, never a fault."""

from __future__ import annotations

from agent.assessment.difference import differences
from agent.measurements import LinkFacts
from agent.record.model import Change, Record, Since


def since(before: Record, after: Record) -> Since:
    """Return how a visit compares with an earlier one, in figures and in circumstances."""
    return Since(
        record_id=before.record_id,
        started=before.started,
        utc_offset_min=before.utc_offset_min,
        compared=_compared(before, after),
        differences=differences(before.assessment.criteria, after.assessment.criteria),
        changes=_changes(before, after),
    )


def _compared(before: Record, after: Record) -> int:
    """Return how many figures with an interval both visits have."""
    had, has = (
        {(c.name, c.unit, c.layer) for c in r.assessment.criteria if c.low is not None}
        for r in (before, after)
    )
    return len(had & has)


def _changes(before: Record, after: Record) -> tuple[Change, ...]:
    then, now = _circumstances(before), _circumstances(after)
    return tuple(
        Change(what=name, then=then[name], now=now[name])
        for name in then
        if then[name] != now[name]
    )


def _circumstances(record: Record) -> dict[str, str | None]:
    """Return what two visits should have in common for their figures to be comparable."""
    ports = (m.measurement.observed for m in record.measured)
    speeds = [p.speed_bps for p in ports if isinstance(p, LinkFacts) and p.speed_bps is not None]
    tier = record.tier
    return {
        "tier": None if tier is None else f"{tier.name} ({tier.down_bps}/{tier.up_bps} bit/s)",
        "spot": record.visit.spot,
        "plugged-into": record.visit.plugged_into,
        "port": str(speeds[0]) if speeds else None,
    }
