"""What was stated, and what the server told, as the judge takes it."""

from __future__ import annotations

from collections.abc import Mapping

from agent.assessment.circumstances import Circumstances
from agent.record.model import ServerFacts
from agent.session.request import VisitRequest


def circumstances_of(
    request: VisitRequest, interface: str | None, server: ServerFacts | None
) -> Circumstances:
    """Return the circumstances of a visit that is being made."""
    return Circumstances(
        purpose=request.purpose,
        plugged_into=request.plugged_into,
        access=request.access,
        handover=request.handover,
        nothing_else_on=request.nothing_else_on,
        interface=interface,
        seen_address=server.seen_address if server else None,
        server_cards=cards_of(server),
        card_fault=server.card_fault if server else None,
        laptop_check=next((c for c in request.laptop_checks if c.interface == interface), None),
    )


def cards_of(server: ServerFacts | None) -> tuple[Mapping[str, object], ...]:
    """Return the server's card before and after the transfers, as far as it was read."""
    return () if server is None else tuple(c for c in (server.card, server.card_after) if c)
