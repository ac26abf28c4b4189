"""Who translates addresses between the laptop and the server: inferred, never measured.

One address seen by the server and another held by the laptop say that someone translates. Who does
is read from the walk: private addresses past the gateway are a further router of the home.
"""

from __future__ import annotations

from agent.diagnosis.facts import Facts
from agent.diagnosis.model import Segment, Translation
from agent.diagnosis.needs import LEASE, PATH, Told, any_of
from agent.diagnosis.rule import Match, Rule
from agent.measurements import Kind, Scalar
from agent.stats.address_ranges import SHARED, TUNNEL_ENDS, within

_BEFORE_A_TRANSLATOR = (SHARED, TUNNEL_ENDS)
"""What an operator gives out or uses on the customer's side of its own translator."""

_THIS_SIDE = frozenset({Segment.LAPTOP, Segment.HOME, Segment.MODEM})


def translation_of(facts: Facts) -> Translation | None:
    """Return what is known of translation over IPv4, None where the server saw no such address."""
    seen, own = facts.around.seen, _own(facts)
    if seen is None or not own or ":" in seen:
        return None
    return Translation(
        translated=seen not in own,
        home_routers=_home_routers(facts)[0],
        shared=any(within(address, _BEFORE_A_TRANSLATOR) for address in own),
    )


def second_router(facts: Facts) -> Match | None:
    """Two routers of the home stand one behind the other."""
    routers, evidence = _home_routers(facts)
    if routers < 2:
        return None
    values: dict[str, Scalar] = {"routers": routers}
    return Match(evidence=evidence, values=values)


def shared_address(facts: Facts) -> Match | None:
    """The line was given an address that several customers share."""
    shared = [a for a in _own(facts) if within(a, _BEFORE_A_TRANSLATOR)]
    if not shared:
        return None
    held = (i for i in facts.evidence.select(Kind.LEASE) if i.lease is not None)
    ids = tuple(i.id for i in held if i.lease and i.lease.address in shared)
    return Match(evidence=ids, values={"address": shared[0]})


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
        past = (h for h, s in zip(hops, segments, strict=True) if s not in _THIS_SIDE)
        first = next(past, None)
        for address in first.addresses if first else ():
            if within(address, _BEFORE_A_TRANSLATOR):
                return Match(evidence=(item.id,), values={"hop": address, "seen_address": seen})
    return None


def _own(facts: Facts) -> tuple[str, ...]:
    return tuple(sorted(a for a in facts.around.own if ":" not in a))


def _home_routers(facts: Facts) -> tuple[int, tuple[str, ...]]:
    """Return how many routers of the home answered a walk over IPv4, and which walk."""
    most, evidence = 0, tuple[str, ...]()
    for item, (hops, segments) in zip(facts.walked(), facts.walks(), strict=True):
        pairs = zip(hops, segments, strict=True)
        count = sum(bool(hop.addresses) and seg is Segment.HOME for hop, seg in pairs)
        if item.measurement.family == 4 and count > most:
            most, evidence = count, (item.id,)
    return most, evidence


RULES: tuple[Rule, ...] = (
    Rule(
        code="second-router",
        segment=Segment.NONE,
        confidence=0.8,
        next_step="let-one-router-bridge",
        test=second_router,
        needs=(PATH,),
    ),
    Rule(
        code="shared-address",
        segment=Segment.NONE,
        confidence=0.9,
        next_step="ask-for-own-address",
        test=shared_address,
        needs=(LEASE,),
    ),
    Rule(
        code="carrier-translation",
        segment=Segment.NONE,
        confidence=0.7,
        next_step="ask-for-own-address",
        test=carrier_translation,
        needs=(PATH, any_of(Told.SEEN_ADDRESS)),
    ),
)
