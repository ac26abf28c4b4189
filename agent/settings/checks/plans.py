"""Plans: steps named once, and time enough for each."""

from __future__ import annotations

from collections.abc import Iterator

from agent.measurements import Kind
from agent.settings.checks.parts import Parts, Problem
from agent.settings.keys import Path
from agent.settings.model import EchoPlan, Plan


def plans(parts: Parts) -> Iterator[Problem]:
    """Yield plans with no step or one named twice, and steps that their wall limit cuts short."""
    for plan in parts.plans:
        path = ("plans", plan.name)
        if not plan.steps or len(set(plan.steps)) < len(plan.steps):
            found = "a step twice" if plan.steps else "no step"
            yield Problem(path=(*path, "steps"), found=found, allowed="each step at most once")
        for kind, part, seconds in _durations(plan):
            if kind in plan.steps and seconds > plan.wall_s.of(kind):
                yield _cut_short(path, kind, part, seconds, plan.wall_s.of(kind))


def _cut_short(path: Path, kind: Kind, part: str, seconds: float, wall_s: float) -> Problem:
    return Problem(
        path=(*path, "wall_s", kind.value),
        found=f"{wall_s:g} s for a step that takes {seconds:g} s",
        allowed=f"at least {seconds:g}, or a shorter step",
        other=Problem(
            path=(*path, part),
            found=f"{seconds:g} s of work, but wall_s.{kind} cuts it short after {wall_s:g} s",
            allowed=f"less of it, or wall_s.{kind} of at least {seconds:g}",
        ),
    )


def _durations(plan: Plan) -> Iterator[tuple[Kind, str, float]]:
    """Yield step, its part of the plan and the least time that takes, seconds.

    The echo series run side by side, the two directions of throughput one after the other.
    """
    for part in ("server_echo", "near_echo", "long_echo"):
        echo: EchoPlan = getattr(plan, part)
        yield Kind.DELAY, part, echo.count * echo.interval_s + echo.waiting_s
    yield Kind.DNS, "dns", plan.dns.queries * plan.dns.interval_s + plan.dns.waiting_s
    yield Kind.PATH, "path", plan.path.waiting_s
    yield Kind.LEASE, "lease", plan.lease.listen_s if plan.lease.probe else 0.0
    yield Kind.THROUGHPUT, "throughput", 2 * plan.throughput.seconds
