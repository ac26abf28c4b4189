"""From a measurement to its statistics."""

from __future__ import annotations

from agent.measurements import (
    EchoSeries,
    FamilyLook,
    HopWalk,
    LeaseFacts,
    LinkFacts,
    Measurement,
    NameQueries,
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
from agent.stats.throughput import throughput_statistics
from agent.stats.web import http_statistics


def summarise(measurement: Measurement) -> Statistics | None:
    """Return the statistics of what was observed; None where nothing was."""
    result: Statistics | None
    match measurement.observed:
        case LinkFacts() as facts:
            result = link_statistics(facts)
        case LeaseFacts() as facts:
            result = lease_statistics(facts)
        case NameQueries() as queries:
            result = dns_statistics(queries)
        case EchoSeries() as series:
            result = delay_statistics(series)
        case HopWalk() as walk:
            result = path_statistics(walk)
        case WebFetch() as fetch:
            result = http_statistics(fetch)
        case Transfer() as transfer:
            result = throughput_statistics(transfer, measurement.direction)
        case FamilyLook() as look:
            result = family_statistics(look)
        case WebAccess() | None:
            result = None
    return result
