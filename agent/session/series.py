"""The delay series of a visit: server, gateway, first hop, modem, all at the same time."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

from agent.codec.card import Card, ReflectorReport
from agent.measurements import Kind, Measurement, Reason, Role, State
from agent.probes.delay import measure_delay
from agent.probes.server import open_reflector, reflector_report
from agent.schedules.far import FarReport
from agent.session.site import Site
from agent.session.steps import Step
from agent.session.targets import EchoTarget
from agent.settings.model import EchoPlan

IPV4 = 4
STAMP = "stamp"
ECHO = "icmp-echo"
REPORT_WITHIN_S = 2.0
GRANT_WITHIN_S = 3.0


def plan_of(site: Site, role: Role) -> EchoPlan:
    """Return how the series to a role is sent: long to the server, short to what is near."""
    plan = site.request.plan
    return plan.server_echo if role is Role.SERVER else plan.near_echo


def echo_step(site: Site, target: EchoTarget) -> Step:
    """Return the step of an ICMP echo series."""
    return _step(site, target, lambda: (_series(site, target, None),))


def stamp_step(site: Site, card: Card, address: str) -> Step:
    """Return the step of a STAMP series, with leave asked before and the far log read after."""
    target = EchoTarget(role=Role.SERVER, address=address, method=STAMP)

    def probe() -> tuple[Measurement, ...]:
        http = site.http
        url, token = site.request.server_url or "", site.request.token
        grant = open_reflector(http, url, card, token, within_s=GRANT_WITHIN_S)
        granted = EchoTarget(
            role=Role.SERVER, address=address, method=STAMP, port=grant.port, ssid=grant.ssid
        )

        told: list[ReflectorReport] = []

        def far_report() -> FarReport | None:
            told.append(reflector_report(http, url, card, grant, token, within_s=REPORT_WITHIN_S))
            return FarReport(received=told[-1].received, order=told[-1].runs)

        measured = _series(site, granted, far_report)
        refused = told[-1].refused if told else 0
        return (_limited(measured, refused) if refused else measured,)

    return _step(site, target, probe)


def _step(site: Site, target: EchoTarget, probe: Callable[[], tuple[Measurement, ...]]) -> Step:
    plan = plan_of(site, target.role)
    return Step(
        kind=Kind.DELAY,
        role=target.role,
        probe=probe,
        expected_s=plan.count * plan.interval_s + 0.3,
        wall_s=site.request.plan.wall_s.delay,
        method=target.method,
    )


def _series(
    site: Site, target: EchoTarget, far_report: Callable[[], FarReport | None] | None
) -> Measurement:
    socket = site.workshop.probe_socket(
        target.method, site.ground.binding, target.address, target.port
    )
    try:
        return measure_delay(
            socket,
            plan_of(site, target.role),
            timeline=site.timeline,
            role=target.role,
            method=target.method,
            address=target.address,
            family=IPV4,
            ssid=target.ssid,
            within_s=site.request.plan.wall_s.delay,
            running=site.running,
            far_report=far_report,
        )
    finally:
        socket.close()


def _limited(measured: Measurement, refused: int) -> Measurement:
    """Return the series as cut short: what the reflector refused is no loss of the line."""
    reason = Reason(code="reflector-limited", values={"refused": refused})
    return replace(measured, state=State.PARTIAL, reason=reason)
