"""Where packets are lost: decided by the delay series, supported by the path.

Three series go over the same way at the same time: to the gateway, to the first hop past the modem,
to the server. The server's says whether anything is lost, and in which direction. The nearest
series that loses packets as it does ends the stretch where they are lost. Where the gateway is the
operator's, the modem's series takes the place of its own. A far end that answers fewer probes than
one beyond it limits its answers (RFC 1812 §4.3.2.8), and tells nothing.
"""

from __future__ import annotations

from dataclasses import dataclass

from agent.diagnosis.facts import Facts
from agent.diagnosis.model import Segment
from agent.diagnosis.rule import Match
from agent.measurements import DelayStatistics, Direction, Role, Scalar
from agent.stats.fisher import chance_of_more
from agent.stats.same_loss import Losses, chance_of_same

_TRACE = 0.001
"""Loss whose lower bound stays under this is left unmentioned."""

_POSSIBLE = 0.6
_EVEN = 0.5
_SIGNIFICANT = 0.01
"""Below this chance a far end beyond is the better one."""

_OF_HOME, _OF_LINE = 0.3, 0.75
"""How often loss proves to begin in the home, and if not there, on the access line; judgement."""

_UNSURE_EDGE = 0.75
"""The most that is said where silent hops stand between the home and the first that answers."""

_SUPPORT, _MOST = 0.05, 0.95
"""What a walk that shows the loss too adds to the confidence, and where that ends."""

_JUDGED = ("server-loss", "server-loss-up", "server-loss-down")

AT_GATEWAY, AT_MODEM, PAST_MODEM = "loss-at-gateway", "loss-at-modem", "loss-past-modem"
BEFORE_FIRST_HOP, IN_OPERATOR = "loss-before-first-hop", "loss-in-operator"
PAST_GATEWAY, UNPLACED = "loss-past-gateway", "loss-unplaced"
BEFORE_MODEM = "loss-before-modem"
_PAST_HOME = (PAST_MODEM, PAST_GATEWAY)

CONFIDENCE = {
    AT_GATEWAY: 0.8,
    AT_MODEM: 0.8,
    BEFORE_MODEM: 0.8,
    PAST_MODEM: 0.85,
    BEFORE_FIRST_HOP: 0.6,
    IN_OPERATOR: 0.75,
    PAST_GATEWAY: 0.6,
    UNPLACED: 0.5,
}
"""The most that the counts alone give, however clear: judgement, as in the table of rules."""


@dataclass(frozen=True, slots=True, kw_only=True)
class LossPlace:
    """Where packets are lost: the finding's code, segment, confidence, and the direction if known.

    `evidence` are the ids of the measurements that say so.
    """

    code: str
    segment: Segment
    confidence: float
    direction: Direction | None = None
    evidence: tuple[str, ...] = ()


def loss_at_gateway(facts: Facts) -> Match | None:
    """Lost already between laptop and gateway, before the line."""
    return _match(facts, AT_GATEWAY)


def loss_at_modem(facts: Facts) -> Match | None:
    """Lost already between laptop and the modem that it is plugged into, before the line."""
    return _match(facts, AT_MODEM)


def loss_before_modem(facts: Facts) -> Match | None:
    """Clean to the router, lost on the way from there to the modem's own address."""
    return _match(facts, BEFORE_MODEM)


def loss_past_modem(facts: Facts) -> Match | None:
    """Clean before the line, lost to the first hop past the modem and to the server alike."""
    return _match(facts, PAST_MODEM)


def loss_before_first_hop(facts: Facts) -> Match | None:
    """Lost to the first hop past the modem; no gateway tells home from line."""
    return _match(facts, BEFORE_FIRST_HOP)


def loss_in_operator(facts: Facts) -> Match | None:
    """Clean to the first hop past the modem, lost beyond it."""
    return _match(facts, IN_OPERATOR)


def loss_past_gateway(facts: Facts) -> Match | None:
    """Clean to the gateway, lost beyond it; no series to the first hop tells where."""
    return _match(facts, PAST_GATEWAY)


def loss_unplaced(facts: Facts) -> Match | None:
    """Lost on the way to the server; nothing nearer tells where."""
    return _match(facts, UNPLACED)


def place_loss(facts: Facts) -> LossPlace | None:
    """Return where packets are lost on the way to the server, None where none are to speak of."""
    far = _lossy(facts)
    if far is None:
        return None
    role, first = _first_hop(facts)
    at_near = _shares(_answering(facts, _near_role(facts)), far, (far, first), _OF_HOME)
    at_first = _shares(first, far, (far,), _OF_LINE)
    code, segment, confidence = _placed(facts, role, at_near, at_first)
    at_modem = _at_modem(facts, (far, first))
    if code in _PAST_HOME and at_modem is not None and at_modem >= _EVEN:
        code, segment, confidence = BEFORE_MODEM, Segment.HOME, at_modem
    place = LossPlace(
        code=code,
        segment=segment,
        confidence=min(confidence, CONFIDENCE[code], 1.0 if facts.missed(*_JUDGED) else _POSSIBLE),
        direction=_direction(facts, far),
        evidence=_ids(facts, _near_role(facts), *_modem_of(code), role, Role.SERVER),
    )
    return _supported(facts, place)


def _modem_of(code: str) -> tuple[Role, ...]:
    return (Role.MODEM,) if code == BEFORE_MODEM else ()


def _at_modem(facts: Facts, beyond: tuple[DelayStatistics, DelayStatistics | None]) -> float | None:
    """Return how probable it is that the modem's series loses what the server's does."""
    if _near_role(facts) is not Role.GATEWAY:
        return None
    return _shares(_answering(facts, Role.MODEM), beyond[0], beyond, _OF_HOME)


def server_loses(facts: Facts) -> bool:
    """Tell whether loss to the server is worth a finding."""
    return _lossy(facts) is not None


def _near_role(facts: Facts) -> Role:
    """Return whose series ends before the line: the modem's where the gateway is past it."""
    return Role.MODEM if facts.gateway_segment is Segment.ACCESS else Role.GATEWAY


def _placed(
    facts: Facts, role: Role, at_near: float | None, at_first: float | None
) -> tuple[str, Segment, float]:
    """Return code, segment and confidence; a probability is None where a series tells nothing."""
    to_gateway = _near_role(facts) is Role.GATEWAY
    if at_near is not None and at_near >= _EVEN:
        near = (AT_GATEWAY, facts.gateway_segment) if to_gateway else (AT_MODEM, Segment.MODEM)
        return *near, at_near
    if at_first is None:
        if at_near is None or not to_gateway:
            return UNPLACED, Segment.UNDETERMINED, 1.0
        return PAST_GATEWAY, Segment.ACCESS, 1 - at_near
    if at_first < _EVEN:
        return IN_OPERATOR, Segment.OPERATOR, 1 - at_first
    if at_near is None and role is not Role.GATEWAY:
        return BEFORE_FIRST_HOP, Segment.ACCESS, at_first
    found = at_first * (1 - (at_near or 0.0))
    sure = 1.0 if _edge_is_sure(facts, role) else _UNSURE_EDGE
    return PAST_MODEM, Segment.ACCESS, min(found, sure)


def _shares(
    near: DelayStatistics | None,
    far: DelayStatistics,
    beyond: tuple[DelayStatistics | None, ...],
    before: float,
) -> float | None:
    """Return how probable it is that a nearer series loses what the server's does.

    None where it tells nothing: not run, never answered, or significantly worse than one beyond.
    """
    if near is None or near.loss_ratio is None:
        return None
    own = Losses.of_series(near)
    if any(_worse(own, Losses.of_series(other)) for other in beyond if other is not None):
        return None
    return chance_of_same(own, Losses.of_series(far), trace=_TRACE, before=before)


def _worse(one: Losses, other: Losses) -> bool:
    return chance_of_more(one.lost, one.of, other.lost, other.of) < _SIGNIFICANT


def _lossy(facts: Facts) -> DelayStatistics | None:
    """Return the series to the server where it misses its limit or clearly loses packets."""
    found = _answering(facts, Role.SERVER)
    if found is None:
        return None
    clear = found.loss_low is not None and found.loss_low > _TRACE
    return found if clear or facts.missed(*_JUDGED) else None


def _answering(facts: Facts, role: Role) -> DelayStatistics | None:
    """Return the series to a role that answers; one that is silent merely does not answer."""
    found = facts.sent_to(role)
    return found if found is not None and found.received else None


def _first_hop(facts: Facts) -> tuple[Role, DelayStatistics | None]:
    """Return the role and the series of the first hop past the modem; it may be the gateway's.

    A hop that is the server itself says nothing of the line.
    """
    role = Role.GATEWAY if facts.gateway_segment is Segment.ACCESS else Role.FIRST_HOP
    if role is Role.GATEWAY and _answering(facts, role) is None:
        role = Role.FIRST_HOP
    item, server = facts.series(role), facts.series(Role.SERVER)
    itself = item and server and item.measurement.address == server.measurement.address
    return role, None if itself else _answering(facts, role)


def _edge_is_sure(facts: Facts, role: Role) -> bool:
    """Tell whether no walk leaves it open what lies between the home and the first hop."""
    item = facts.series(role)
    address = item.measurement.address if item else None
    return all(
        segment is Segment.ACCESS
        for hops, segments in facts.walks()
        for hop, segment in zip(hops, segments, strict=True)
        if address in hop.addresses
    )


def _direction(facts: Facts, far: DelayStatistics) -> Direction | None:
    """Return in which direction packets are lost, None where the server cannot tell them apart."""
    if far.forward_loss_ratio is None or far.backward_loss_ratio is None:
        return None
    up = (far.forward_low or 0.0) > _TRACE or bool(facts.missed("server-loss-up"))
    down = (far.backward_low or 0.0) > _TRACE or bool(facts.missed("server-loss-down"))
    if up == down:
        return Direction.BOTH
    return Direction.UP if up else Direction.DOWN


def _supported(facts: Facts, place: LossPlace) -> LossPlace:
    """Return the place, a little more confident where a walk loses probes from there on too."""
    for item_id, segment in _first_lossy(facts):
        if segment is place.segment:
            return LossPlace(
                code=place.code,
                segment=segment,
                confidence=min(place.confidence + _SUPPORT, _MOST),
                direction=place.direction,
                evidence=(*place.evidence, item_id),
            )
    return place


def _first_lossy(facts: Facts) -> list[tuple[str, Segment]]:
    """Return for each walk the segment of the first hop from which on all lose probes."""
    found = []
    for item, (hops, segments) in zip(facts.walked(), facts.walks(), strict=True):
        lossy = (s for hop, s in zip(hops, segments, strict=True) if hop.answering == "lossy")
        first = next(lossy, None)
        if first is not None:
            found.append((item.id, first))
    return found


def _match(facts: Facts, code: str) -> Match | None:
    place = place_loss(facts)
    if place is None or place.code != code:
        return None
    return Match(
        evidence=place.evidence,
        values=_values(facts, place),
        confidence=place.confidence,
        segment=place.segment,
    )


def _values(facts: Facts, place: LossPlace) -> dict[str, Scalar]:
    direction: dict[str, Scalar] = {"direction": place.direction.value} if place.direction else {}
    near = facts.sent_to(_near_role(facts))
    if place.code in (AT_GATEWAY, AT_MODEM) and near is not None:
        lost = near.sent - near.received
        return {"loss_ratio": near.loss_ratio, "lost": lost, "sent": near.sent, **direction}
    far = facts.sent_to(Role.SERVER)
    first = _first_hop(facts)[1]
    told = {} if first is None else {"first_hop_loss": first.loss_ratio}
    return {**(_ways(far) if far else {}), **told, **direction}


def _ways(far: DelayStatistics) -> dict[str, Scalar]:
    if far.forward_loss_ratio is None:
        return {"loss_ratio": far.loss_ratio}
    return {"loss_up": far.forward_loss_ratio, "loss_down": far.backward_loss_ratio}


def _ids(facts: Facts, *roles: Role) -> tuple[str, ...]:
    found = (facts.series(role) for role in dict.fromkeys(roles))
    return tuple(item.id for item in found if item is not None)
