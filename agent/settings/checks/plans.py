"""Plans: steps named once, and time enough for each."""

from __future__ import annotations

from collections.abc import Iterator

from agent.measurements import Kind
from agent.settings.checks.parts import Parts, Problem
from agent.settings.model import Plan


def plans(parts: Parts) -> Iterator[Problem]:
    """Yield plans with no step or one named twice, and steps that their wall limit cuts short."""
    for plan in parts.plans:
        path = ("plans", plan.name)
        if not plan.steps or len(set(plan.steps)) < len(plan.steps):
            found = "a step twice" if plan.steps else "no step"
            yield Problem(path=(*path, "steps"), found=found, allowed="each step at most once")
        for kind, seconds in _durations(plan):
            if kind in plan.steps and seconds > plan.wall_s.of(kind):
                yield Problem(
                    path=(*path, "wall_s", kind.value),
                    found=f"{plan.wall_s.of(kind):g} s for a step that takes {seconds:g} s",
                    allowed=f"at least {seconds:g}, or a shorter step",
                )


def _durations(plan: Plan) -> Iterator[tuple[Kind, float]]:
    """Yield the least time a step takes, seconds; throughput runs one direction after the other."""
    echoes = (plan.server_echo, plan.near_echo)
    series = [echo.count * echo.interval_s + echo.waiting_s for echo in echoes]
    yield Kind.DELAY, max(series)
    yield Kind.DNS, plan.dns.queries * plan.dns.interval_s + plan.dns.waiting_s
    yield Kind.PATH, plan.path.waiting_s
    yield Kind.LEASE, plan.lease.listen_s if plan.lease.probe else 0.0
    yield Kind.THROUGHPUT, 2 * plan.throughput.seconds
