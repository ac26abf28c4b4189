"""The conditions: state of laptop and port around the measurements, from pairs of readings."""

from __future__ import annotations

from dataclasses import dataclass

from agent.clock import Timeline
from agent.errors import CannotMeasure
from agent.measurements import Conditions, Medium, Phase
from agent.ports.facts import Counters, FactsPort, Interface, Load, Way
from agent.units import bps

HEADER_SHARE = 0.06
"""What frames carry beyond payload: 54 of 1514 bytes in a full frame, and an answer of 66 bytes to
every second one the other way (RFC 9293 §3.8.6.3), together 6 % of the payload."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Reading:
    """Counters of port and processors at one moment, seconds from the start of the visit."""

    at_s: float
    load: Load
    counters: Counters | None = None


def take_reading(facts: FactsPort, interface: str, timeline: Timeline) -> Reading:
    """Return the counters now; those of the port are None where the port is gone."""
    try:
        counters: Counters | None = facts.counters(interface)
    except CannotMeasure:
        counters = None
    return Reading(at_s=timeline.now_s(), load=facts.load(), counters=counters)


def read_conditions(
    facts: FactsPort,
    phase: Phase,
    *,
    interface: str,
    server: str | None,
    timeline: Timeline,
    since: Reading | None = None,
    own_bytes: int = 0,
) -> Conditions:
    """Return the conditions now; rates and shares cover the time from `since` on.

    `server` is the operator's server by address: its way tells whether the system's traffic takes
    the tested line. `own_bytes` is what the agent has moved since that reading, both directions.
    """
    now = take_reading(facts, interface, timeline)
    ports = {port.name: port for port in facts.interfaces()}
    port = ports.get(interface)
    link = port.link if port else None
    egress = _egress(facts, server)
    return Conditions(
        phase=phase,
        at_s=now.at_s,
        medium=link.medium if link else None,
        speed_bps=link.speed_bps if link else None,
        duplex=link.duplex if link else None,
        tunnel=_tunnel(ports, interface, egress),
        egress=egress,
        tested_line=None if egress is None else egress == interface,
        other_traffic_bps=other_traffic_bps(since, now, own_bytes),
        cpu_ratio=cpu_ratio(since, now),
        on_battery=now.load.on_battery,
        virtual_machine=now.load.virtual_machine,
        injected=(*(link.injected if link else ()), *now.load.injected),
    )


def other_traffic_bps(since: Reading | None, now: Reading, own_bytes: int) -> float | None:
    """Return bit/s on the port beyond the agent's own, both directions; never below zero."""
    if since is None or since.counters is None or now.counters is None:
        return None
    moved = _total(now.counters) - _total(since.counters)
    other = max(0.0, moved - own_bytes * (1 + HEADER_SHARE))
    return bps(other, now.at_s - since.at_s)


def cpu_ratio(since: Reading | None, now: Reading) -> float | None:
    """Return the busy share of all processors between two readings, 0 to 1."""
    if since is None or since.load.busy_s is None or now.load.busy_s is None:
        return None
    total = (now.load.total_s or 0.0) - (since.load.total_s or 0.0)
    busy = now.load.busy_s - since.load.busy_s
    return min(1.0, max(0.0, busy / total)) if total > 0 else None


def _total(counters: Counters) -> int:
    return counters.received_bytes + counters.sent_bytes


def _egress(facts: FactsPort, server: str | None) -> str | None:
    try:
        way: Way | None = facts.route(server) if server else None
    except CannotMeasure:
        way = None
    return way.interface if way and way.interface else None


def _tunnel(ports: dict[str, Interface], interface: str, egress: str | None) -> str | None:
    """Return the tunnel in the way: the tested port itself, or where the system would go."""
    for name in (interface, egress):
        if name in ports and ports[name].link.medium is Medium.TUNNEL:
            return name
    return None
