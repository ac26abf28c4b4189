"""Delay that is not this line's own: other customers' traffic past it, a detour, a full household.

Three series go over the same way at the same time. What the first hop past the modem shows, the
line and the home do; what only the server shows is added past the line. A longer way adds the same
to every probe, a queue now more and now less.
"""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise

from agent.assessment.model import Limiting
from agent.assessment.queues import idle_queue_ms, spread_ms
from agent.diagnosis import needs
from agent.diagnosis.facts import Facts
from agent.diagnosis.model import Segment
from agent.diagnosis.rate import limited
from agent.diagnosis.rule import Match, Rule
from agent.measurements import Direction, Kind, Role, Scalar

_DETOUR_MS = 25.0
"""What the way past the line adds at least before it counts: a region is crossed in some 10 ms
(common practice, no source), and light needs 10 ms for 1,000 km of fibre there and back."""

_QUEUE_MS = 6.0
_TWICE = 2.0
"""How much more a queue varies than the way before it, by ms and times; no source, judgement."""

_STEADY = 0.3
"""A detour varies by less than this share of what it adds."""

_UNPROMISED = 0.75
"""How sure a detour is where nobody promised a delay: the server may really stand far away."""

_NOTHING_MISSED = 0.6
_OVERFLOWS = ("loss-past-modem", "loss-before-first-hop", "loss-past-gateway", "loss-unplaced")
"""What a queue that others keep full turns away looks like loss on the line."""


def operator_congested(facts: Facts) -> Match | None:
    """The idle delay past the line varies as in a queue, that to the line's far end does not."""
    extra, before = _spread(facts, Role.SERVER), _spread(facts, _edge(facts))
    if extra is None or before is None:
        return None
    if extra - before < _QUEUE_MS or extra < _TWICE * before:
        return None
    return Match(evidence=_ids(facts), values={"spread_ms": extra, "first_hop_spread_ms": before})


def path_detour(facts: Facts) -> Match | None:
    """Every probe takes much longer past the line than a way within the region would."""
    near, far = _least(facts, _edge(facts)), _least(facts, Role.SERVER)
    spread = _spread(facts, Role.SERVER)
    if near is None or far is None or spread is None:
        return None
    added = far - near
    if added < _DETOUR_MS or spread > _STEADY * added:
        return None
    values: dict[str, Scalar] = {"added_ms": added, "hop": _jump(facts, added)}
    promised = any(c.needed for c in facts.missed("server-delay-median"))
    return Match(evidence=_ids(facts), values=values, confidence=None if promised else _UNPROMISED)


def household_traffic(facts: Facts) -> Match | None:
    """The idle line has a queue of its own before this laptop fills it: somebody else uses it."""
    found = limited(facts, Limiting.HOUSEHOLD)
    if found is not None:
        return replace(found, evidence=(*found.evidence, *_ids(facts)))
    for direction in (Direction.DOWN, Direction.UP):
        deep = idle_queue_ms(facts.evidence, direction)
        if deep is not None:
            values: dict[str, Scalar] = {"direction": direction.value, "idle_queue_ms": deep}
            return Match(evidence=_ids(facts), values=values, confidence=_NOTHING_MISSED)
    return None


def delay_varies(facts: Facts) -> Match | None:
    """The delay of the line itself varies beyond its limit, while the home's is even.

    An even way to the gateway also shows that a busy laptop is not what varies.
    """
    limit = next((c.limit for c in facts.criteria("server-delay-variation")), None)
    first, near = _spread(facts, _edge(facts)), _spread(facts, Role.GATEWAY)
    spread = _spread(facts, Role.SERVER)
    if limit is None or first is None or near is None or spread is None or spread <= limit:
        return None
    at_edge = _edge(facts) is Role.GATEWAY
    if first < spread / _TWICE or (near > spread / _TWICE and not at_edge):
        return None
    values: dict[str, Scalar] = {"spread_ms": spread, "limit_ms": limit}
    return Match(evidence=_ids(facts), values=values)


def _edge(facts: Facts) -> Role:
    """Return who stands at the line's far end: the gateway itself in bridge mode."""
    return Role.GATEWAY if facts.gateway_segment is Segment.ACCESS else Role.FIRST_HOP


def _spread(facts: Facts, role: Role) -> float | None:
    return spread_ms(facts.series(role))


def _least(facts: Facts, role: Role) -> float | None:
    found = facts.sent_to(role)
    return found.rtt_ms.min if found is not None else None


def _jump(facts: Facts, added_ms: float) -> str | None:
    """Return the first hop from which on a walk takes most of what is added."""
    for item in facts.evidence.select(Kind.PATH, Role.SERVER):
        hops = item.path.hops if item.path else ()
        known = [(h, h.rtt_ms.min) for h in hops if h.addresses and h.rtt_ms.min is not None]
        for (_, before), (hop, after) in pairwise(known):
            if after - before >= added_ms / _TWICE:
                return hop.addresses[0]
    return None


def _ids(facts: Facts) -> tuple[str, ...]:
    found = (facts.series(role) for role in (Role.GATEWAY, Role.FIRST_HOP, Role.SERVER))
    return tuple(item.id for item in found if item is not None)


OPERATOR_CONGESTED = Rule(
    code="operator-congested",
    segment=Segment.OPERATOR,
    confidence=0.8,
    next_step="refer-to-operator",
    test=operator_congested,
    hides=frozenset({"held-past-line", "delay-high", "delay-varies", "slow-line", "rate-unsteady"}),
    needs=(needs.TO_LINE_END, needs.TO_SERVER),
)
PATH_DETOUR = Rule(
    code="path-detour",
    segment=Segment.OPERATOR,
    confidence=0.8,
    next_step="report-detour",
    test=path_detour,
    hides=frozenset({"delay-high"}),
    needs=(needs.TO_LINE_END, needs.TO_SERVER),
)
HOUSEHOLD_TRAFFIC = Rule(
    code="household-traffic",
    segment=Segment.HOME,
    confidence=0.7,
    next_step="stop-other-traffic",
    test=household_traffic,
    hides=frozenset({"delay-varies", "rate-unsteady", "slow-line", *_OVERFLOWS}),
    needs=(needs.TO_LINE_END, needs.TO_SERVER),
)
DELAY_VARIES = Rule(
    code="delay-varies",
    segment=Segment.ACCESS,
    confidence=0.6,
    next_step="read-levels",
    test=delay_varies,
    needs=(needs.TO_LINE_END, needs.TO_SERVER),
)
RULES: tuple[Rule, ...] = (OPERATOR_CONGESTED, PATH_DETOUR, DELAY_VARIES)
