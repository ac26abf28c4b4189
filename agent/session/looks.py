"""The steps that hardly load the line and run side by side: lease, web, path."""

from __future__ import annotations

from contextlib import ExitStack

from agent.codec.card import Card
from agent.measurements import Kind, Measurement, Role
from agent.ports.datagram import ProbeSocket
from agent.probes.http import measure_http
from agent.probes.lease import measure_lease
from agent.probes.path import walk_path
from agent.session.site import Site
from agent.session.sizes import SizeSearch
from agent.session.steps import Step
from agent.settings.model import Handover, WebTarget

IPV4 = 4
PATH_METHOD = "udp-path"


def lease_step(site: Site) -> Step:
    """Return the step that reads the lease and, where it may, asks for offers."""
    plan, wall_s = site.request.plan.lease, site.request.plan.wall_s.lease
    probing = plan.probe and site.request.probe_offers
    dialled = site.request.handover is Handover.PPPOE
    listen_s = plan.pado_listen_s if dialled else plan.listen_s
    frames = site.workshop.frames if probing else None
    frames_reason = site.workshop.frames_reason if probing else "not-asked"

    def probe() -> tuple[Measurement, ...]:
        return measure_lease(
            site.workshop.facts,
            frames,
            plan,
            interface=site.ground.interface.name,
            handover=site.request.handover.value,
            timeline=site.timeline,
            within_s=wall_s,
            running=site.running,
            frames_reason=frames_reason,
        )

    return Step(
        kind=Kind.LEASE,
        role=Role.LOCAL,
        probe=probe,
        expected_s=listen_s if frames else 0.1,
        wall_s=wall_s,
        method="held",
    )


def web_step(site: Site, target: WebTarget) -> Step:
    """Return the step that fetches one page."""
    plan, wall_s = site.request.plan.http, site.request.plan.wall_s.http

    def probe() -> tuple[Measurement, ...]:
        measured = measure_http(
            site.http,
            target,
            plan,
            timeline=site.timeline,
            within_s=wall_s,
            running=site.running,
        )
        return (measured,)

    return Step(
        kind=Kind.HTTP,
        role=Role.OUTSIDE,
        probe=probe,
        expected_s=plan.attempts * 0.5,
        wall_s=wall_s,
        method="http",
    )


def path_step(site: Site, address: str, card: Card | None) -> Step:
    """Return the step that walks towards the server, in as many flows as the plan has.

    The search for the path MTU runs beside the walk, where the server has a reflector.
    """
    plan, wall_s = site.request.plan.path, site.request.plan.wall_s.path

    def probe() -> tuple[Measurement, ...]:
        sizes = SizeSearch(site, address, card)
        with ExitStack() as stack:
            sockets = [_flow(site, address, stack) for _ in range(plan.flows)]
            measured = walk_path(
                sockets,
                plan,
                wait=site.workshop.wait_together,
                timeline=site.timeline,
                target=address,
                family=6 if ":" in address else IPV4,
                within_s=wall_s,
                running=site.running,
            )
        return (sizes.beside(measured),)

    return Step(
        kind=Kind.PATH,
        role=Role.SERVER,
        probe=probe,
        expected_s=plan.waiting_s + 0.5,
        wall_s=wall_s,
        method=PATH_METHOD,
    )


def _flow(site: Site, address: str, stack: ExitStack) -> ProbeSocket:
    port = site.request.plan.path.port
    socket = site.workshop.probe_socket(PATH_METHOD, site.ground.binding, address, port)
    stack.callback(socket.close)
    return socket
