"""Nothing passes: from the port outwards, the first thing that is silent."""

from __future__ import annotations

from agent.diagnosis.facts import Facts
from agent.diagnosis.model import Segment
from agent.diagnosis.rule import Match
from agent.measurements import Kind, Reason, Role

UNSURE_AT_MODEM = 0.6
"""A modem that holds the last device, a dark line and a silent operator look alike; judgement."""


def no_interface(facts: Facts) -> Match | None:
    """The named port is not there."""
    return _failed_with(facts, "no-interface")


def port_down(facts: Facts) -> Match | None:
    """The port has no link."""
    item = facts.evidence.first(Kind.LINK)
    link = item.link if item else None
    if item is not None and link is not None and not link.up:
        return Match(evidence=(item.id,), values={"interface": facts.circumstances.interface})
    return _failed_with(facts, "interface-down")


def no_lease(facts: Facts) -> Match | None:
    """A link, no usable address; on a PPPoE handover none is expected."""
    item = next((i for i in facts.evidence.select(Kind.LEASE) if i.lease is not None), None)
    lease = item.lease if item is not None else None
    if item is None or lease is None:
        return None
    return Match(
        evidence=(item.id,),
        values={"origin": lease.origin, "address": lease.address, "offers": lease.offers},
        confidence=None if facts.behind_home else UNSURE_AT_MODEM,
        segment=facts.near_segment(),
        next_step="restart-router" if facts.behind_home else "restart-modem-alone",
    )


def gateway_silent(facts: Facts) -> Match | None:
    """The gateway and everything beyond it are silent."""
    if not facts.silent(Role.GATEWAY):
        return None
    return Match(
        evidence=_ids(facts, Role.GATEWAY),
        values=_target(facts, Role.GATEWAY),
        segment=facts.near_segment(),
        next_step=None if facts.behind_home else "read-levels-or-swap-modem",
    )


def silent_at_modem(facts: Facts) -> Match | None:
    """Plugged into modem or ONT an address is held, and nothing answers: neither it nor beyond.

    Its own silence says nothing there: what is for it would go to the operator's gateway, whose
    hardware address nobody gives any more (RFC 826).
    """
    if not _cut_past_gateway(facts) or facts.evidence.answers(Role.MODEM):
        return None
    if facts.evidence.answers(Role.GATEWAY):
        return None
    return Match(
        evidence=_ids(facts, Role.GATEWAY, Role.MODEM, Role.SERVER),
        values=_target(facts, Role.GATEWAY),
    )


def modem_silent(facts: Facts) -> Match | None:
    """The home's side answers, the modem's own address does not, and nothing beyond."""
    if not _cut_past_gateway(facts) or not facts.silent(Role.MODEM):
        return None
    return Match(
        evidence=_ids(facts, Role.GATEWAY, Role.MODEM, Role.SERVER),
        values=_target(facts, Role.MODEM),
    )


def nothing_past_modem(facts: Facts) -> Match | None:
    """The modem answers, which may be the gateway, and nothing beyond it."""
    role = Role.GATEWAY if facts.gateway_segment is Segment.MODEM else Role.MODEM
    if not _cut_past_gateway(facts) or not facts.evidence.answers(role):
        return None
    return Match(
        evidence=_ids(facts, *dict.fromkeys((Role.GATEWAY, role, Role.SERVER))),
        values=_target(facts, role),
    )


def nothing_past_gateway(facts: Facts) -> Match | None:
    """The gateway answers, nothing beyond, and the modem has no address to ask."""
    if not _cut_past_gateway(facts):
        return None
    return Match(evidence=_ids(facts, Role.GATEWAY, Role.SERVER))


def _cut_past_gateway(facts: Facts) -> bool:
    """Tell whether the near side works and nothing past it, although something was tried.

    Plugged into modem or ONT the gateway is the operator's, and may be silent itself.
    """
    if not facts.tried_beyond():
        return False
    near = facts.gateway_segment is not Segment.ACCESS
    return near if facts.evidence.answers(Role.GATEWAY) else not near and facts.silent(Role.GATEWAY)


def _failed_with(facts: Facts, code: str) -> Match | None:
    hit = [i for i in facts.evidence.items if _code(i.measurement.reason) == code]
    if not hit:
        return None
    reason = hit[0].measurement.reason
    named = reason.values.get("interface") if reason else None
    values = {"interface": named, "cause": code}
    return Match(evidence=tuple(i.id for i in hit), values=values)


def _code(reason: Reason | None) -> str | None:
    return reason.code if reason else None


def _ids(facts: Facts, *roles: Role) -> tuple[str, ...]:
    found = (facts.series(role) for role in roles)
    return tuple(item.id for item in found if item is not None)


def _target(facts: Facts, role: Role) -> dict[str, str | int | float | bool | None]:
    item = facts.series(role)
    if item is None or item.delay is None:
        return {}
    return {"address": item.measurement.address, "sent": item.delay.sent}
