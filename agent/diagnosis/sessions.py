"""A PPPoE handover without a session: nobody answers discovery, or nobody dialled."""

from __future__ import annotations

from agent.assessment.evidence import Item
from agent.diagnosis.exclusions import Exclusion
from agent.diagnosis.facts import Facts
from agent.diagnosis.groups import ALL_BEYOND
from agent.diagnosis.model import Segment
from agent.diagnosis.needs import LEASE
from agent.diagnosis.rule import Match, Rule
from agent.measurements import Kind, LeaseFacts, Scalar


def no_session(facts: Facts) -> Match | None:
    """A PPPoE handover without a session, and nobody asked for a concentrator."""
    item = _first_lease(facts)
    held = _held(item) if item else None
    return Match(evidence=(item.id,)) if item and held and held.pppoe is None else None


def not_started(facts: Facts) -> Match | None:
    """A PPPoE handover without a session, although a concentrator answers."""
    item = _first_lease(facts)
    held = _held(item) if item else None
    if item is None or held is None or held.pppoe is None or not held.pppoe.concentrators:
        return None
    first = min(held.pppoe.concentrators, key=lambda one: one.after_ms)
    values: dict[str, Scalar] = {
        "concentrator": first.name,
        "after_ms": first.after_ms,
        "error": first.error,
    }
    return Match(evidence=(item.id,), values=values)


def no_concentrator(facts: Facts) -> Match | None:
    """A PPPoE handover on which nobody answers discovery."""
    item = _first_lease(facts)
    held = _held(item) if item else None
    if item is None or held is None or held.pppoe is None or held.pppoe.concentrators:
        return None
    return Match(evidence=(item.id,), values={"sent": held.pppoe.sent})


def _first_lease(facts: Facts) -> Item | None:
    return next((i for i in facts.evidence.select(Kind.LEASE) if _held(i) is not None), None)


def _held(item: Item) -> LeaseFacts | None:
    observed = item.measurement.observed
    return observed if isinstance(observed, LeaseFacts) else None


RULES: tuple[Rule, ...] = (
    Rule(
        code="pppoe-silent",
        segment=Segment.ACCESS,
        confidence=0.75,
        next_step="check-sync-and-tag",
        test=no_concentrator,
        needs=(LEASE,),
        ruled_out_by=frozenset(
            {Exclusion.NO_SESSION_HANDOVER, Exclusion.ADDRESS_HELD, Exclusion.LINK_DOWN}
        ),
        hides=ALL_BEYOND,
    ),
    Rule(
        code="pppoe-not-started",
        segment=Segment.LAPTOP,
        confidence=0.85,
        next_step="start-pppoe-session",
        test=not_started,
        needs=(LEASE,),
        ruled_out_by=frozenset(
            {Exclusion.NO_SESSION_HANDOVER, Exclusion.ADDRESS_HELD, Exclusion.LINK_DOWN}
        ),
        hides=ALL_BEYOND,
    ),
    Rule(
        code="pppoe-no-session",
        segment=Segment.UNDETERMINED,
        confidence=0.5,
        next_step="start-pppoe-session",
        test=no_session,
        needs=(LEASE,),
        ruled_out_by=frozenset(
            {Exclusion.NO_SESSION_HANDOVER, Exclusion.ADDRESS_HELD, Exclusion.LINK_DOWN}
        ),
        hides=ALL_BEYOND,
    ),
)
