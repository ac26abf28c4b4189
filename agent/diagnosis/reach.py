"""Ports that a product promises and that do not pass, with who stops them.

A router names itself where the hop limit of an attempt runs out. Where that works on a port that
passes, and on the blocked one only up to some router, that router or the next one stops it: it is
placed with the last one that answered. A refusal from as far as the far end is its own.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from agent.assessment.evidence import Item
from agent.diagnosis.exclusions import Exclusion
from agent.diagnosis.facts import Facts
from agent.diagnosis.model import Segment
from agent.diagnosis.needs import PORTS
from agent.diagnosis.rule import Match, Rule
from agent.diagnosis.segments import hop_segments
from agent.measurements import Kind, PortStatistics, ReachStatistics, Scalar

_NEAR = frozenset({Segment.LAPTOP, Segment.HOME, Segment.MODEM})
_STEPS = {
    Segment.HOME: "allow-port-at-router",
    Segment.OPERATOR: "report-port-filter",
    Segment.BEYOND: "ask-far-end",
}
PLACED, GUESSED, UNPLACED = 0.8, 0.5, 0.4
"""Judgement: with the next router known to answer others, without it, with nothing to compare."""

_NOT_LISTENING = frozenset({(3, 3), (1, 4)})
"""ICMP type and code, port unreachable: nobody listens (RFC 792; RFC 4443 §3.1)."""


@dataclass(frozen=True, slots=True)
class _Stop:
    """Who stops a port, how sure that is, and the address that stands for it."""

    segment: Segment
    confidence: float
    address: str | None


def port_blocked(facts: Facts) -> Match | None:
    """A port that should be open is stopped on the way, while another of the same host is not."""
    for item, found in _looks(facts):
        blocked = [port for port in found.ports if _is_blocked(facts, port, found)]
        if blocked:
            return _match(facts, item.id, blocked)
    return None


def port_refused(facts: Facts) -> Match | None:
    """The far end itself says that a port which should be open is closed."""
    for item, found in _looks(facts):
        closed = [port for port in found.ports if _is_closed(facts, port)]
        if closed:
            port = closed[0]
            return Match(
                evidence=(item.id,),
                values={**_named(port), "ports_closed": len(closed)},
                segment=_far(port),
                confidence=GUESSED if port.reached_at is None else PLACED,
            )
    return None


def _looks(facts: Facts) -> Iterator[tuple[Item, ReachStatistics]]:
    for item in facts.evidence.select(Kind.REACH):
        if isinstance(item.statistics, ReachStatistics):
            yield item, item.statistics


def _is_blocked(facts: Facts, port: PortStatistics, found: ReachStatistics) -> bool:
    """Tell whether the port, and neither its host nor the service there, is the trouble."""
    if not port.wanted_open or port.as_wanted is not False or _is_closed(facts, port):
        return False
    if _of_a_dead_server(facts, port):
        return False
    server_answers = port.at_server and bool(found.seen_addresses)
    return server_answers or port.compared_with is not None or port.outcome == "refused"


def _is_closed(facts: Facts, port: PortStatistics) -> bool:
    """Tell whether the target itself refuses: by ICMP, or by a reset from no nearer than it is.

    Where no other port shows how far away it is, a reset from right behind the home may be another
    one's, sent in its name. A server that is down altogether is told as that.
    """
    if not port.wanted_open or _of_a_dead_server(facts, port):
        return False
    if port.outcome == "unreachable":
        told = (port.icmp_type, port.icmp_code)
        return port.answered_by == port.address and told in _NOT_LISTENING
    if port.outcome != "refused" or port.refused_at is None:
        return port.outcome == "refused"
    if port.reached_at is not None:
        return port.refused_at >= port.reached_at
    last = _last(port)
    return last > 0 and _placed(facts, port, last) is not Segment.HOME


def _of_a_dead_server(facts: Facts, port: PortStatistics) -> bool:
    return port.at_server and facts.server_cause() is not None


def _far(port: PortStatistics) -> Segment:
    return Segment.OPERATOR if port.at_server else Segment.BEYOND


def _named(port: PortStatistics) -> dict[str, Scalar]:
    return {
        "name": port.name,
        "transport": port.transport.value.upper(),
        "port": str(port.port),
    }


def _match(facts: Facts, evidence: str, blocked: list[PortStatistics]) -> Match:
    stops = [_stop(facts, port) for port in blocked]
    port, stop = max(zip(blocked, stops, strict=True), key=lambda pair: pair[1].confidence)
    return Match(
        evidence=(evidence,),
        values={
            **_named(port),
            "port_fate": port.outcome,
            "last_hop": stop.address,
            "ports_blocked": len(blocked),
        },
        segment=stop.segment,
        confidence=stop.confidence,
        next_step=_STEPS.get(stop.segment),
    )


def _stop(facts: Facts, port: PortStatistics) -> _Stop:
    if port.answered_by is not None and port.answered_by != port.address:
        return _at_router(facts, port, port.answered_by)
    last, end = _last(port), port.reached_at
    if port.answered_by is not None:
        return _Stop(_far(port), PLACED, port.address)
    if end is None or (not last and not port.others_to):
        return _Stop(Segment.UNDETERMINED, UNPLACED, _hop(port, last))
    if not last:
        return _Stop(Segment.HOME, GUESSED, None)
    if last >= end - 1:
        return _at_the_end(facts, port, last)
    sure = (port.others_to or 0) > last or port.refused_at is not None
    return _Stop(_placed(facts, port, last), PLACED if sure else GUESSED, _hop(port, last))


def _last(port: PortStatistics) -> int:
    """Return the distance of the last router that the port passes as far as it was seen.

    A refusal comes from the router before the distance at which it is first met, even where that
    one had no word left for the hop limit: routers say so only now and then.
    """
    if port.refused_at is not None:
        return port.refused_at - 1
    return port.answers_to or 0


def _at_the_end(facts: Facts, port: PortStatistics, last: int) -> _Stop:
    """Return the stop at the last router or the far end behind it, which look the same."""
    far, router = _far(port), _placed(facts, port, last)
    if router in {far, Segment.UNDETERMINED}:
        return _Stop(far, GUESSED, _hop(port, last))
    return _Stop(Segment.UNDETERMINED, UNPLACED, _hop(port, last))


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


PORT_BLOCKED = Rule(
    code="port-blocked",
    segment=Segment.UNDETERMINED,
    confidence=UNPLACED,
    next_step="compare-port-elsewhere",
    test=port_blocked,
    needs=(PORTS,),
    ruled_out_by=frozenset({Exclusion.NOTHING_PASSES}),
)
PORT_REFUSED = Rule(
    code="port-refused",
    segment=Segment.BEYOND,
    confidence=PLACED,
    next_step="ask-far-end",
    test=port_refused,
    needs=(PORTS,),
    ruled_out_by=frozenset({Exclusion.NOTHING_PASSES}),
)
RULES: tuple[Rule, ...] = (PORT_BLOCKED, PORT_REFUSED)
