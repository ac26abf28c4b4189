"""The lease: the addresses that the system holds, and a DISCOVER that takes nothing."""

from __future__ import annotations

from dataclasses import replace

from agent.clock import Timeline
from agent.errors import CannotMeasure
from agent.measurements import (
    Kind,
    LeaseFacts,
    LeaseProbe,
    LinkFacts,
    Measurement,
    Medium,
    Reason,
    Role,
    State,
)
from agent.ports.facts import FactsPort
from agent.ports.frames import Discover, FramePort
from agent.ports.running import Running
from agent.settings.model import Handover, LeasePlan

HELD = "system"
PROBED = "system+discover"
SETTING_UP_S = 3.0
"""What the helper may take beside listening; it loads its frame library first."""


def measure_lease(
    facts: FactsPort,
    frames: FramePort | None,
    plan: LeasePlan,
    *,
    interface: str,
    handover: str,
    timeline: Timeline,
    within_s: float,
    running: Running,
    frames_reason: str | None = None,
) -> tuple[Measurement, ...]:
    """Return one measurement per held address, or one of origin "none": that is a fact too.

    The probe's offers stand in the first IPv4 entry; where no probe was made, `probe_reason` says
    why: `frames_reason` ("right-missing" by default) when there is no helper.
    """
    started_s = timeline.now_s()
    try:
        held = facts.leases(interface)
        link = next(p.link for p in facts.interfaces() if p.name == interface)
    except CannotMeasure as error:
        return (_measurement(timeline, started_s, None, Reason.of(error)),)
    unwilling = _why_not(plan, link, handover, running, within_s)
    if unwilling is None and frames is None:
        unwilling = frames_reason or "right-missing"
    probe = None
    if unwilling is None and frames is not None:
        probe, unwilling = _probe(frames, plan, link)
    entries = (replace(held[0], probe=probe, probe_reason=unwilling), *held[1:])
    return tuple(_measurement(timeline, started_s, entry, None) for entry in entries)


def _why_not(
    plan: LeasePlan, link: LinkFacts, handover: str, running: Running, within_s: float
) -> str | None:
    """Return why no DISCOVER is sent; on a PPPoE handover no server would answer it."""
    refusals = {
        "not-asked": not plan.probe,
        "pppoe-handover": handover == Handover.PPPOE or link.medium is Medium.PPP,
        "interface-down": not link.up,
        "not-ethernet": link.hardware_address is None or link.medium is Medium.TUNNEL,
        "stopped": running.stopped(),
        "no-time": within_s < plan.listen_s + SETTING_UP_S,
    }
    return next((code for code, refused in refusals.items() if refused), None)


def _probe(
    frames: FramePort, plan: LeasePlan, link: LinkFacts
) -> tuple[LeaseProbe | None, str | None]:
    asked = Discover(
        interface=link.interface,
        hardware_address=link.hardware_address or "",
        listen_s=plan.listen_s,
    )
    try:
        return frames.discover(asked), None
    except CannotMeasure as error:
        return None, str(error.fields.get("code", error.code))


def _measurement(
    timeline: Timeline, started_s: float, observed: LeaseFacts | None, reason: Reason | None
) -> Measurement:
    probed = observed is not None and observed.probe is not None
    return Measurement(
        kind=Kind.LEASE,
        role=Role.LOCAL,
        state=State.FAILED if observed is None else State.COMPLETE,
        method=PROBED if probed else HELD,
        started_s=started_s,
        duration_s=timeline.now_s() - started_s,
        family=observed.family if observed else None,
        address=observed.address if observed else None,
        reason=reason,
        observed=observed,
    )
