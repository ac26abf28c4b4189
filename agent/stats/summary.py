"""From a measurement to its statistics."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from agent.measurements import (
    EchoSeries,
    FamilyLook,
    HopWalk,
    LeaseFacts,
    LinkFacts,
    Measurement,
    NameQueries,
    ReachLook,
    Statistics,
    Transfer,
    WebAccess,
    WebFetch,
)
from agent.stats.delay import delay_statistics
from agent.stats.families import family_statistics
from agent.stats.lease import lease_statistics
from agent.stats.link import link_statistics
from agent.stats.names import dns_statistics
from agent.stats.path import path_statistics
from agent.stats.reach import reach_statistics
from agent.stats.throughput import throughput_statistics
from agent.stats.web import http_statistics
from agent.stats.web_access import web_access_statistics

_REDUCED: dict[type, Callable[[Any], Statistics]] = {
    LinkFacts: link_statistics,
    LeaseFacts: lease_statistics,
    NameQueries: dns_statistics,
    EchoSeries: delay_statistics,
    HopWalk: path_statistics,
    WebFetch: http_statistics,
    FamilyLook: family_statistics,
    ReachLook: reach_statistics,
    WebAccess: web_access_statistics,
}


def summarise(measurement: Measurement) -> Statistics | None:
    """Return the statistics of what was observed; None where nothing was."""
    seen = measurement.observed
    if isinstance(seen, Transfer):
        return throughput_statistics(seen, measurement.direction)
    return None if seen is None else _REDUCED[type(seen)](seen)
