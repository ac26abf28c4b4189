"""What load added to delay: each loaded series against the idle one to the same far end."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace

from agent.measurements import DelayStatistics, Measurement, Statistics
from agent.stats.delay import rise_ms

NO_LOAD = "none"


def with_rises(
    measurements: Sequence[Measurement], statistics: Mapping[str, Statistics | None]
) -> dict[str, Statistics | None]:
    """Return the statistics by id, those of loaded delay series with their rise added.

    The idle series is the first of the same role and family, of the same method where there is one.
    """
    idle = [
        (m, s)
        for m in measurements
        if isinstance(s := statistics.get(m.id), DelayStatistics) and s.load == NO_LOAD
    ]
    return {m.id: _risen(m, statistics.get(m.id), idle) for m in measurements}


def _risen(
    measurement: Measurement,
    found: Statistics | None,
    idle: Sequence[tuple[Measurement, DelayStatistics]],
) -> Statistics | None:
    if not isinstance(found, DelayStatistics) or found.load == NO_LOAD:
        return found
    same = [
        (m.method == measurement.method, s)
        for m, s in idle
        if (m.role, m.family) == (measurement.role, measurement.family)
    ]
    if not same:
        return found
    _, quiet = max(same, key=lambda one: one[0])
    return replace(found, rise_ms=rise_ms(quiet, found))
