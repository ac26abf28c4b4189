"""The steps that fill the line: one direction at a time, nothing beside them."""

from __future__ import annotations

from agent.codec.card import Limits
from agent.measurements import Direction, Kind, Measurement, Role
from agent.probes.throughput import UPLOAD_BODY_BYTES, measure_throughput
from agent.session.share import byte_cap
from agent.session.site import Site
from agent.session.steps import Step
from agent.settings.model import ThroughputPlan

SETTLING_S = 1.0

STEADY_LINE_S = 4.0
"""What a transfer takes that ends once its interval is narrow, on a line that holds its rate."""


def within(plan: ThroughputPlan, limits: Limits | None) -> ThroughputPlan:
    """Return the plan with no more flows and seconds than the server allows one client."""
    if limits is None:
        return plan
    changes = {
        "flows": min(plan.flows, limits.flows),
        "seconds": max(1.0, min(plan.seconds, limits.seconds - SETTLING_S)),
    }
    return plan.model_copy(update=changes)


def expected_s(site: Site) -> float:
    """Return how long one direction is expected to take, seconds."""
    plan = site.request.plan.throughput
    usual_s = plan.seconds if plan.mode == "fixed" else min(plan.seconds, STEADY_LINE_S)
    return usual_s + SETTLING_S


def fill_step(site: Site, direction: Direction, url: str, limits: Limits | None) -> Step:
    """Return the step that fills the line in one direction; `limits` are the server's own."""
    plan = within(site.request.plan.throughput, limits)
    wall_s = site.request.plan.wall_s.throughput
    body_bytes = min(UPLOAD_BODY_BYTES, limits.upload_bytes) if limits else None

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
            body_bytes=body_bytes,
        )
        return (measured,)

    return Step(
        kind=Kind.THROUGHPUT,
        role=Role.SERVER,
        direction=direction,
        probe=probe,
        expected_s=expected_s(site),
        wall_s=wall_s,
        method="tcp-bulk",
    )
