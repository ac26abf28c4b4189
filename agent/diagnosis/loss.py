"""Where packets are lost: the nearest series that shows it."""

from __future__ import annotations

from agent.diagnosis.facts import Facts
from agent.diagnosis.model import Segment
from agent.diagnosis.rule import Match
from agent.measurements import DelayStatistics, Role, Scalar

_TRACE = 0.001
"""Loss whose lower bound stays under this is left unmentioned."""

_POSSIBLE = 0.6
_SHARE_OF_FAR = 0.5
_LEAST_LOST = 2

_JUDGED = ("server-loss", "server-loss-up", "server-loss-down")


def loss_at_gateway(facts: Facts) -> Match | None:
    """Behind the home's equipment: lost already between laptop and gateway."""
    near, far = facts.sent_to(Role.GATEWAY), _lossy(facts)
    if not facts.behind_home or near is None or far is None or not _carries(near, far):
        return None
    values: dict[str, Scalar] = {
        "loss_ratio": near.loss_ratio,
        "lost": near.sent - near.received,
        "sent": near.sent,
    }
    return _match(facts, (Role.GATEWAY, Role.SERVER), values)


def loss_past_modem(facts: Facts) -> Match | None:
    """Clean to the gateway, lost to the first hop and to the server alike."""
    first, role = _first_hop(facts)
    far = _lossy(facts)
    if first is None or far is None or _home_loses(facts, far) or _clean_before(first, far):
        return None
    values = {**_ways(far), "first_hop_loss": first.loss_ratio}
    seen = None if first.received < first.sent else _POSSIBLE
    return _match(facts, (Role.GATEWAY, role, Role.SERVER), values, seen)


def loss_in_operator(facts: Facts) -> Match | None:
    """Clean to the first hop past the modem, lost beyond it."""
    first, role = _first_hop(facts)
    far = _lossy(facts)
    if first is None or far is None or _home_loses(facts, far):
        return None
    if not _clean_before(first, far):
        return None
    values = {**_ways(far), "first_hop_loss": first.loss_ratio}
    return _match(facts, (Role.GATEWAY, role, Role.SERVER), values)


def loss_past_gateway(facts: Facts) -> Match | None:
    """Lost somewhere past the gateway; no series to the first hop tells where."""
    first, _ = _first_hop(facts)
    far = _lossy(facts)
    if first is not None or far is None or _home_loses(facts, far):
        return None
    near = facts.sent_to(Role.GATEWAY)
    place = None if near is not None and near.received else Segment.UNDETERMINED
    found = _match(facts, (Role.GATEWAY, Role.SERVER), _ways(far), _POSSIBLE)
    return Match(
        evidence=found.evidence,
        values=found.values,
        confidence=found.confidence,
        segment=place,
    )


def server_loses(facts: Facts) -> bool:
    """Tell whether loss to the server is worth a finding."""
    return _lossy(facts) is not None


def _lossy(facts: Facts) -> DelayStatistics | None:
    """Return the series to the server where it misses its limit or clearly loses packets."""
    found = facts.sent_to(Role.SERVER)
    if found is None or not found.received:
        return None
    clear = found.loss_low is not None and found.loss_low > _TRACE
    return found if clear or facts.missed(*_JUDGED) else None


def _first_hop(facts: Facts) -> tuple[DelayStatistics | None, Role]:
    """Return the series to the first hop past the modem: the gateway's when plugged into it.

    A hop that is the server itself, or that never answered, says nothing about the line.
    """
    direct = not facts.behind_home and not facts.gateway_is_private()
    role = Role.GATEWAY if direct else Role.FIRST_HOP
    item, server = facts.series(role), facts.series(Role.SERVER)
    if item is None or item.delay is None or not item.delay.received:
        return None, role
    if server is not None and server.measurement.address == item.measurement.address:
        return None, role
    return item.delay, role


def _home_loses(facts: Facts, far: DelayStatistics) -> bool:
    near = facts.sent_to(Role.GATEWAY)
    return facts.behind_home and near is not None and _carries(near, far)


def _carries(near: DelayStatistics, far: DelayStatistics) -> bool:
    """Tell whether loss seen near by accounts for the loss far away.

    A single lost packet near by is chance; a silent neighbour merely does not answer.
    """
    lost = near.sent - near.received
    if not near.received or lost < _LEAST_LOST:
        return False
    return (near.loss_ratio or 0.0) >= _SHARE_OF_FAR * (far.loss_ratio or 0.0)


def _clean_before(first: DelayStatistics, far: DelayStatistics) -> bool:
    """Tell whether the first hop is significantly better than the server."""
    high, low = first.loss_high, far.loss_low
    return high is not None and low is not None and high < low


def _ways(far: DelayStatistics) -> dict[str, Scalar]:
    if far.forward_loss_ratio is None:
        return {"loss_ratio": far.loss_ratio}
    return {"loss_up": far.forward_loss_ratio, "loss_down": far.backward_loss_ratio}


def _match(
    facts: Facts,
    roles: tuple[Role, ...],
    values: dict[str, Scalar],
    confidence: float | None = None,
) -> Match:
    """Return the match; loss that misses no limit is only possible."""
    if not facts.missed(*_JUDGED):
        confidence = _POSSIBLE
    found = (facts.series(role) for role in dict.fromkeys(roles))
    ids = tuple(item.id for item in found if item is not None)
    return Match(evidence=ids, values=values, confidence=confidence)
