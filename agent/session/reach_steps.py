"""The step that tries the ports of the settings and asks how the server sees this laptop."""

from __future__ import annotations

from agent.codec.card import Card
from agent.errors import NoAddress
from agent.measurements import Kind, Measurement, Role
from agent.probes.reach import METHOD, ServerEnds, measure_reach
from agent.session.lookup import FAMILIES, first_address
from agent.session.site import Site
from agent.session.steps import Step
from agent.session.targets import port_of_url, server_link

EXPECTED_S = 0.3
LOOKUP_S = 2.0


def reach_step(site: Site, address: str | None, card: Card | None) -> Step | None:
    """Return the step, None where no port is listed and no server tells how it sees us."""
    checks = site.request.settings.targets.ports
    if not checks and card is None:
        return None
    plan, wall_s = site.request.plan.reach, site.request.plan.wall_s.reach

    def probe() -> tuple[Measurement, ...]:
        measured = measure_reach(
            site.workshop.reach(site.ground.binding),
            checks,
            server_ends(site, address, card),
            plan,
            resolve=lambda host: resolved(site, host),
            timeline=site.timeline,
            within_s=wall_s,
            running=site.running,
        )
        return (measured,)

    return Step(
        kind=Kind.REACH,
        role=Role.OUTSIDE,
        probe=probe,
        expected_s=EXPECTED_S,
        wall_s=wall_s,
        method=METHOD,
    )


def server_ends(site: Site, address: str | None, card: Card | None) -> ServerEnds:
    """Return where the server is, and how its card saw the laptop."""
    link = server_link(site.request.server_url, site.request.settings.server)
    seen = None if card is None else card.seen
    # The card may have come over another family than the address that everything else goes to.
    family = None if seen is None else _family(seen.address)
    return ServerEnds(
        address=address,
        card_port=port_of_url(link) if link else None,
        answer_port=None if card is None else card.answer_port,
        own=None if family is None else site.ground.binding.source(family),
        seen_address=None if seen is None else seen.address,
        seen_port=None if seen is None else seen.port,
    )


def resolved(site: Site, host: str) -> str:
    """Return an address of a host in a family that the laptop speaks; raises CannotMeasure."""
    asked_for = FAMILIES[site.request.family]
    spoken = tuple(f for f in asked_for if site.ground.binding.source(f) is not None)
    if not spoken:
        raise NoAddress(interface=site.ground.interface.name)
    return first_address(site.names, host, spoken, within_s=LOOKUP_S)


def _family(address: str) -> int:
    return 6 if ":" in address else 4
