"""The link: what the system says of the port under test."""

from __future__ import annotations

from agent.clock import Timeline
from agent.errors import CannotMeasure, NoInterface
from agent.measurements import Kind, LinkFacts, Measurement, Reason, Role, State
from agent.ports.facts import FactsPort

METHOD = "system"


def measure_link(facts: FactsPort, interface: str, timeline: Timeline) -> Measurement:
    """Return one reading of the port; `failed` where the system does not know it."""
    started_s = timeline.now_s()
    try:
        observed, reason = _facts(facts, interface), None
    except CannotMeasure as error:
        observed, reason = None, Reason.of(error)
    return Measurement(
        kind=Kind.LINK,
        role=Role.LOCAL,
        state=State.FAILED if observed is None else State.COMPLETE,
        method=METHOD,
        started_s=started_s,
        duration_s=timeline.now_s() - started_s,
        reason=reason,
        observed=observed,
    )


def _facts(facts: FactsPort, interface: str) -> LinkFacts:
    found = next((port for port in facts.interfaces() if port.name == interface), None)
    if found is None:
        raise NoInterface(interface=interface)
    return found.link
