"""The lease: the addresses that the system holds, and a DISCOVER that takes nothing."""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor
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
    PppoeProbe,
    Reason,
    Role,
    State,
)
from agent.ports.facts import FactsPort
from agent.ports.frames import Discover, FramePort, Padi
from agent.ports.running import Running
from agent.probes.advertised import hear_routers, with_routers
from agent.probes.lease_options import stated_options
from agent.settings.model import Handover, LeasePlan

HELD = "system"
PROBED = "system+discover"
DIALLED = "system+padi"
MOST_HELD = 4
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
    why: `frames_reason` ("right-missing" by default) when there is no helper. On a PPPoE handover
    the concentrators stand there instead, and the reason that no DISCOVER was sent. Routers and
    servers of IPv6 are heard in the same time.
    """
    started_s = timeline.now_s()
    try:
        held = facts.leases(interface)
        port = next(p for p in facts.interfaces() if p.name == interface)
    except CannotMeasure as error:
        return (_measurement(timeline, started_s, None, Reason.of(error)),)
    link, dialled = port.link, handover == Handover.PPPOE
    listen_s = plan.pado_listen_s if dialled else plan.listen_s
    unwilling = _why_not(plan, link, running, within_s - listen_s)
    if unwilling is None and frames is None:
        unwilling = frames_reason or "right-missing"
    asked = (frames if unwilling is None else None), unwilling
    with ThreadPoolExecutor(max_workers=1) as pool:
        beside = pool.submit(hear_routers, asked[0], asked[1], plan, link, dialled=dialled)
        first = _first(held, asked, plan, link, dialled=dialled)
        entries = with_routers((first, *held[1:]), beside.result(), port.advertised)
    return tuple(_measurement(timeline, started_s, entry, None) for entry in entries)


def _first(
    held: tuple[LeaseFacts, ...],
    asked: tuple[FramePort | None, str | None],
    plan: LeasePlan,
    link: LinkFacts,
    *,
    dialled: bool,
) -> LeaseFacts:
    """Return the first that is held with what was heard, or why nobody was asked."""
    frames, unwilling = asked
    if frames is None:
        return replace(held[0], probe_reason=unwilling)
    if dialled:
        return _with_concentrators(held[0], frames, plan, link)
    probe, unwilling = _probe(frames, plan, link, held)
    return replace(held[0], probe=probe, probe_reason=unwilling)


def _why_not(plan: LeasePlan, link: LinkFacts, running: Running, left_s: float) -> str | None:
    """Return why nothing is sent; a PPP link is a session already, and no server answers on it."""
    refusals = {
        "not-asked": not plan.probe,
        "pppoe-handover": link.medium is Medium.PPP,
        "interface-down": not link.up,
        "not-ethernet": link.hardware_address is None or link.medium is Medium.TUNNEL,
        "stopped": running.stopped(),
        "no-time": left_s < SETTING_UP_S,
    }
    return next((code for code, refused in refusals.items() if refused), None)


def _probe(
    frames: FramePort, plan: LeasePlan, link: LinkFacts, held: tuple[LeaseFacts, ...]
) -> tuple[LeaseProbe | None, str | None]:
    asked = Discover(
        interface=link.interface,
        hardware_address=link.hardware_address or "",
        listen_s=plan.listen_s,
        options=stated_options(plan),
        held=tuple(one.address for one in held if one.family == 4 and one.address)[:MOST_HELD],
        presence=plan.presence,
    )
    try:
        return frames.discover(asked), None
    except CannotMeasure as error:
        return None, _code(error)


def _with_concentrators(
    held: LeaseFacts, frames: FramePort, plan: LeasePlan, link: LinkFacts
) -> LeaseFacts:
    """Return what is held with the concentrators that answered; no server offers an address."""
    asked = Padi(
        interface=link.interface,
        hardware_address=link.hardware_address or "",
        listen_s=plan.pado_listen_s,
    )
    try:
        heard: PppoeProbe = frames.concentrators(asked)
    except CannotMeasure as error:
        return replace(held, probe_reason=_code(error))
    return replace(held, pppoe=heard, probe_reason="pppoe-handover")


def _code(error: CannotMeasure) -> str:
    return str(error.fields.get("code", error.code))


def _measurement(
    timeline: Timeline, started_s: float, observed: LeaseFacts | None, reason: Reason | None
) -> Measurement:
    return Measurement(
        kind=Kind.LEASE,
        role=Role.LOCAL,
        state=State.FAILED if observed is None else State.COMPLETE,
        method=_method(observed),
        started_s=started_s,
        duration_s=timeline.now_s() - started_s,
        family=observed.family if observed else None,
        address=observed.address if observed else None,
        reason=reason,
        observed=observed,
    )


def _method(observed: LeaseFacts | None) -> str:
    if observed is not None and observed.probe is not None:
        return PROBED
    return DIALLED if observed is not None and observed.pppoe is not None else HELD
