"""Ports that a product promises and that do not pass, with who stops them; translation on the way.

A router names itself where the hop limit of an attempt runs out. Where that works on a port that
passes, and on the blocked one only up to some router, that router or the next one stops it: it is
placed with the last one that answered.
"""

from __future__ import annotations

from dataclasses import dataclass

from agent.diagnosis.facts import Facts
from agent.diagnosis.model import Segment
from agent.diagnosis.rule import Match, Rule
from agent.diagnosis.segments import hop_segments, within
from agent.measurements import Kind, PortStatistics, ReachStatistics

_SHARED = ("100.64.0.0/10",)
"""RFC 6598 §4: between a customer's router and the operator's translator."""

_TUNNEL_END = ("192.0.0.0/29",)
"""RFC 6333 §5.7 and §6.5: the two ends of DS-Lite, the second at the operator's translator."""

_NEAR = frozenset({Segment.LAPTOP, Segment.HOME, Segment.MODEM})
_STEPS = {
    Segment.HOME: "allow-port-at-router",
    Segment.OPERATOR: "report-port-filter",
    Segment.BEYOND: "ask-far-end",
}
PLACED, GUESSED, UNPLACED = 0.8, 0.5, 0.4
"""Judgement: with the next router known to answer others, without it, with nothing to compare."""


@dataclass(frozen=True, slots=True)
class _Stop:
    """Who stops a port, how sure that is, and the address that stands for it."""

    segment: Segment
    confidence: float
    address: str | None


def port_blocked(facts: Facts) -> Match | None:
    """A port that should be open is not, while another one of the same host is."""
    for item in facts.evidence.select(Kind.REACH):
        found = item.statistics
        if not isinstance(found, ReachStatistics):
            continue
        blocked = [port for port in found.ports if _is_blocked(port, found)]
        if blocked and facts.passes():
            return _match(facts, item.id, blocked)
    return None


def _is_blocked(port: PortStatistics, found: ReachStatistics) -> bool:
    """Tell whether the port, and not its host, is the trouble."""
    if not port.wanted_open or port.as_wanted is not False:
        return False
    server_answers = port.at_server and bool(found.seen_addresses)
    return server_answers or port.compared_with is not None


def _match(facts: Facts, evidence: str, blocked: list[PortStatistics]) -> Match:
    stops = [_stop(facts, port) for port in blocked]
    port, stop = max(zip(blocked, stops, strict=True), key=lambda pair: pair[1].confidence)
    return Match(
        evidence=(evidence,),
        values={
            "name": port.name,
            "transport": port.transport.value.upper(),
            "port": str(port.port),
            "port_fate": port.outcome,
            "last_hop": stop.address,
            "ports_blocked": len(blocked),
        },
        segment=stop.segment,
        confidence=stop.confidence,
        next_step=_STEPS.get(stop.segment),
    )


def _stop(facts: Facts, port: PortStatistics) -> _Stop:
    far = Segment.OPERATOR if port.at_server else Segment.BEYOND
    if port.answered_by is not None and port.answered_by != port.address:
        return _at_router(facts, port, port.answered_by)
    last, end = port.answers_to or 0, port.reached_at
    if port.answered_by is not None or (end is not None and last >= end - 1):
        return _Stop(far, PLACED, port.address)
    if end is None:
        return _Stop(Segment.UNDETERMINED, UNPLACED, _hop(port, last))
    if not last:
        return _Stop(Segment.HOME, GUESSED, None)
    sure = (port.others_to or 0) > last or port.refused_at is not None
    return _Stop(_placed(facts, port, last), PLACED if sure else GUESSED, _hop(port, last))


def _at_router(facts: Facts, port: PortStatistics, address: str) -> _Stop:
    """Return the stop at a router that says so itself (RFC 1812 §5.2.7.1)."""
    known = (at for at, hop in enumerate(port.hops, start=1) if address in hop)
    at = next(known, None)
    if at is None:
        return _Stop(Segment.UNDETERMINED, UNPLACED, address)
    return _Stop(_placed(facts, port, at), PLACED, address)


def _placed(facts: Facts, port: PortStatistics, distance: int) -> Segment:
    segments = hop_segments(port.hops, facts.around, port.address)
    segment = segments[distance - 1] if distance <= len(segments) else Segment.UNDETERMINED
    if segment in _NEAR:
        return Segment.HOME
    return Segment.OPERATOR if segment is Segment.ACCESS else segment


def _hop(port: PortStatistics, distance: int) -> str | None:
    hops = port.hops[distance - 1] if 0 < distance <= len(port.hops) else ()
    return next(iter(hops), None)


def carrier_translation(facts: Facts) -> Match | None:
    """The first router past the home has an address that is only for an operator's translation.

    A shared address further on is how an operator numbers its own links, and says nothing.
    """
    seen, own = facts.around.seen, {a for a in facts.around.own if ":" not in a}
    if seen is None or ":" in seen or not own or seen in own:
        return None
    for item, (hops, segments) in zip(facts.walked(), facts.walks(), strict=True):
        if item.measurement.family != 4:
            continue
        past = (h for h, s in zip(hops, segments, strict=True) if s not in _NEAR)
        first = next(past, None)
        for address in first.addresses if first else ():
            if within(address, (*_SHARED, *_TUNNEL_END)):
                return Match(evidence=(item.id,), values={"hop": address, "seen_address": seen})
    return None


PORT_BLOCKED = Rule(
    code="port-blocked",
    segment=Segment.UNDETERMINED,
    confidence=UNPLACED,
    next_step="compare-port-elsewhere",
    test=port_blocked,
)
CARRIER = Rule(
    code="carrier-translation",
    segment=Segment.NONE,
    confidence=0.7,
    next_step="ask-for-own-address",
    test=carrier_translation,
)
RULES: tuple[Rule, ...] = (PORT_BLOCKED, CARRIER)
