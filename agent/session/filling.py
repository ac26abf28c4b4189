"""The steps that fill the line: one direction at a time, nothing beside them."""

from __future__ import annotations

from agent.measurements import Direction, Kind, Measurement, Role
from agent.probes.throughput import measure_throughput
from agent.session.share import byte_cap
from agent.session.site import Site
from agent.session.steps import Step

SETTLING_S = 1.0


def fill_step(site: Site, direction: Direction, url: str) -> Step:
    """Return the step that fills the line in one direction."""
    plan, wall_s = site.request.plan.throughput, site.request.plan.wall_s.throughput

    def probe() -> tuple[Measurement, ...]:
        cap = byte_cap(
            plan,
            site.request.tier,
            direction,
            site.request.max_bytes,
            site.running.bytes_used,
        )
        measured = measure_throughput(
            site.workshop.streams(site.ground.binding, site.names),
            plan,
            direction=direction,
            url=url,
            token=site.request.token,
            timeline=site.timeline,
            within_s=wall_s,
            running=site.running,
            max_bytes=cap,
        )
        return (measured,)

    return Step(
        kind=Kind.THROUGHPUT,
        role=Role.SERVER,
        direction=direction,
        probe=probe,
        expected_s=plan.seconds + SETTLING_S,
        wall_s=wall_s,
        method="tcp-bulk",
    )
