"""The conditions: state of laptop and port around the measurements, from pairs of readings."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from agent.clock import Timeline
from agent.errors import CannotMeasure
from agent.measurements import (
    ClockExchange,
    Conditions,
    Measurement,
    Medium,
    Phase,
)
from agent.measurements.accounts import foreign_rate_bps
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
    transfers: Sequence[Measurement] = (),
    clock: ClockExchange | None = None,
) -> Conditions:
    """Return the conditions now; rates and shares cover the time from `since` on.

    `server` is the operator's server by address: its way tells whether the system's traffic takes
    the tested line. `own_bytes` is what the agent has moved since that reading, both directions.
    Where `transfers` filled the line meanwhile, other traffic is what their own accounts tell:
    what was under way when they ended reaches the port uncounted. `clock` is what a time server
    told since the reading before, if one was asked.
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
        other_traffic_bps=(
            foreign_rate_bps(transfers) if transfers else other_traffic_bps(since, now, own_bytes)
        ),
        cpu_ratio=cpu_ratio(since, now),
        on_battery=now.load.on_battery,
        virtual_machine=now.load.virtual_machine,
        injected=(*(link.injected if link else ()), *now.load.injected),
        since_s=since.at_s if since else None,
        core_ratios=core_ratios(since, now),
        steal_ratio=steal_ratio(since, now),
        process_ratio=process_ratio(since, now),
        unverified_system=now.load.unverified_system,
        clock=clock,
        clock_offset_ms=clock.offset_ms if clock else None,
        clock_unsure_ms=clock.unsure_ms if clock else None,
        power_saver=now.load.power_saver,
        memory_free_ratio=memory_free_ratio(now.load),
        bus_bps=link.bus_bps if link else None,
        carrier_changes=link.carrier_changes if link else None,
        errors=link.errors if link else None,
    )


def memory_free_ratio(load: Load) -> float | None:
    """Return the share of memory that programs could still get, 0 to 1."""
    if not load.memory_bytes or load.memory_free_bytes is None:
        return None
    return min(1.0, load.memory_free_bytes / load.memory_bytes)


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
    total_s = (now.load.total_s or 0.0) - (since.load.total_s or 0.0)
    return _share(now.load.busy_s - since.load.busy_s, total_s)


def core_ratios(since: Reading | None, now: Reading) -> tuple[float, ...]:
    """Return the busy share of each processor, 0 to 1; none where they changed in number."""
    before = since.load.cores if since else ()
    if len(before) != len(now.load.cores):
        return ()
    pairs = zip(before, now.load.cores, strict=True)
    shares = (_share(busy - was_busy, all_ - was) for (was_busy, was), (busy, all_) in pairs)
    return tuple(share for share in shares if share is not None)


def steal_ratio(since: Reading | None, now: Reading) -> float | None:
    """Return the share of all processors that a hypervisor withheld, 0 to 1."""
    if since is None or since.load.steal_s is None or now.load.steal_s is None:
        return None
    total_s = (now.load.total_s or 0.0) - (since.load.total_s or 0.0)
    return _share(now.load.steal_s - since.load.steal_s, total_s)


def process_ratio(since: Reading | None, now: Reading) -> float | None:
    """Return this program's processor time over wall time; above 1 where threads ran at once."""
    if since is None or since.load.process_s is None or now.load.process_s is None:
        return None
    wall_s = now.at_s - since.at_s
    return (now.load.process_s - since.load.process_s) / wall_s if wall_s > 0 else None


def _share(part_s: float, whole_s: float) -> float | None:
    return min(1.0, max(0.0, part_s / whole_s)) if whole_s > 0 else None


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
