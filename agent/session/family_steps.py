"""The step that looks at both address families side by side."""

from __future__ import annotations

from contextlib import closing

from agent.errors import CannotMeasure
from agent.measurements import HopWalk, Kind, Measurement, Role
from agent.probes.families import METHOD, FamilyTarget, measure_families
from agent.probes.path import walk_path
from agent.session.looks import PATH_METHOD
from agent.session.site import Site
from agent.session.steps import Step
from agent.session.targets import host_of, server_link
from agent.settings.model import is_address

EXPECTED_S = 0.5
WALK_S = 3.0
SERVER = "server"


def family_step(site: Site) -> Step:
    """Return the step that asks for the same pages over each family alone."""
    wall_s = site.request.plan.wall_s.http

    def probe() -> tuple[Measurement, ...]:
        measured = measure_families(
            site.http,
            site.names,
            family_targets(site),
            interfaces=site.workshop.facts.interfaces(),
            tested=site.ground.interface,
            resolvers=site.ground.resolvers,
            timeline=site.timeline,
            within_s=wall_s,
            running=site.running,
            walk=lambda address: _walk(site, address),
        )
        return (measured,)

    return Step(
        kind=Kind.HTTP,
        role=Role.OUTSIDE,
        probe=probe,
        expected_s=EXPECTED_S,
        wall_s=wall_s,
        method=METHOD,
    )


def _walk(site: Site, address: str) -> HopWalk | None:
    """Return who answers on the way to an address; None where the way cannot be walked."""
    plan = site.request.plan.path
    try:
        socket = site.workshop.probe_socket(PATH_METHOD, site.ground.binding, address, plan.port)
        with closing(socket):
            walked = walk_path(
                (socket,),
                plan,
                wait=site.workshop.wait_together,
                timeline=site.timeline,
                target=address,
                family=6,
                within_s=WALK_S,
                running=site.running,
                role=Role.OUTSIDE,
            )
    except CannotMeasure:
        return None
    return walked.observed if isinstance(walked.observed, HopWalk) else None


def family_targets(site: Site) -> tuple[FamilyTarget, ...]:
    """Return the web targets, and the operator's server where it has a name.

    The server gets no full packet: a refusal on the way would teach the kernel its path before the
    search for the path MTU begins.
    """
    settings = site.request.settings
    web = tuple(FamilyTarget(name=one.name, url=one.url) for one in settings.targets.web)
    link = server_link(site.request.server_url, settings.server)
    host = host_of(link) if link and link.startswith("http") else ""
    if link is None or not host or is_address(host):
        return web
    return (*web, FamilyTarget(name=SERVER, url=link, filling=False))
