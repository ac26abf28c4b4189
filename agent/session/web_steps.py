"""The step that asks how the network lets the laptop out to the web."""

from __future__ import annotations

import os
from collections.abc import Iterable

from agent.engines.proxies import laptop_proxies
from agent.measurements import Kind, LeaseFacts, Measurement, Role
from agent.probes.web_access import METHOD, NamedApi, measure_web_access
from agent.session.site import Site
from agent.session.steps import Step

EXPECTED_S = 0.3
BY_SETTINGS, BY_DHCP, BY_ROUTER = "settings", "dhcp", "router"


def access_step(site: Site, measured: Iterable[Measurement]) -> Step:
    """Return the step that asks the captive portal API, where the settings or the line name one.

    `measured` is what the visit knows by now; the lease among it may name the API (RFC 8910).
    """
    plan, wall_s = site.request.plan.http, site.request.plan.wall_s.http
    api = named_api(site, [m.observed for m in measured if isinstance(m.observed, LeaseFacts)])

    def probe() -> tuple[Measurement, ...]:
        told = measure_web_access(
            site.http,
            api,
            laptop_proxies(os.environ),
            timeline=site.timeline,
            within_s=min(plan.waiting_s, wall_s),
            running=site.running,
        )
        return (told,)

    return Step(
        kind=Kind.HTTP,
        role=Role.LOCAL,
        probe=probe,
        expected_s=EXPECTED_S if api else 0.0,
        wall_s=wall_s,
        method=METHOD,
    )


def named_api(site: Site, leases: list[LeaseFacts]) -> NamedApi | None:
    """Return the captive portal API: the operator's own setting, else what the line names.

    A visit that measures no lease still reads the one that is held.
    """
    configured = site.request.settings.targets.captive_api
    if configured is not None:
        return NamedApi(url=configured, told_by=BY_SETTINGS)
    held = leases or list(site.workshop.facts.leases(site.ground.interface.name))
    for lease in held:
        offered = lease.probe.captive_api if lease.probe is not None else None
        url = lease.captive_api or offered
        if url is not None:
            router = lease.family == 6 and lease.origin == "kernel"
            return NamedApi(url=url, told_by=BY_ROUTER if router else BY_DHCP)
    return None
