"""From the evidence of a visit to its verdict."""

from __future__ import annotations

from collections.abc import Sequence

from agent.assessment.case import Case
from agent.assessment.criteria.delay import delay_criteria
from agent.assessment.criteria.lease import lease_criteria
from agent.assessment.criteria.loaded import rise_criteria
from agent.assessment.criteria.loss import gateway_loss, server_loss
from agent.assessment.criteria.reach import dns_criteria, path_criteria
from agent.assessment.criteria.throughput import port_facts, throughput_criteria
from agent.assessment.criteria.web import web_criteria
from agent.assessment.fitness import NO_VERDICT, fitness_facts, void
from agent.assessment.limiter import limiters_of
from agent.assessment.model import Assessment, Criterion, FitnessFact, Limiter, Verdict


def assess(case: Case) -> Assessment:
    """Return the criteria of a visit, what was unfit, who limited it, and the verdict."""
    facts, limiters = fitness_facts(case), limiters_of(case)
    criteria = tuple(void(case, c, facts) for c in _criteria(case, limiters))
    verdict, deciding = conclude_verdict(criteria, facts, has_tier=case.tier is not None)
    return Assessment(
        verdict=verdict,
        criteria=criteria,
        fitness=(*facts, *port_facts(case)),
        deciding=deciding,
        rule=case.rule,
        limiters=limiters,
    )


def conclude_verdict(
    criteria: Sequence[Criterion], facts: Sequence[FitnessFact], *, has_tier: bool
) -> tuple[Verdict, tuple[str, ...]]:
    """Return the verdict and what decided it.

    No verdict on another line, through a tunnel or without a tier; else a needed criterion that is
    below decides, else one that is not proven; else the line meets.
    """
    barred = tuple(f.name.replace("_", "-") for f in facts if f.name in NO_VERDICT)
    if barred:
        return Verdict.NOT_PROVEN, barred
    if not has_tier:
        return Verdict.NOT_PROVEN, ("no-tier",)
    for outcome in (Verdict.BELOW, Verdict.NOT_PROVEN):
        names = dict.fromkeys(c.name for c in criteria if c.needed and c.outcome is outcome)
        if names:
            return outcome, tuple(names)
    return (Verdict.MEETS, ()) if criteria else (Verdict.NOT_PROVEN, ("nothing-judged",))


def _criteria(case: Case, limiters: Sequence[Limiter]) -> tuple[Criterion, ...]:
    server = server_loss(case)
    return (
        *throughput_criteria(case, limiters),
        *server,
        *gateway_loss(case, server),
        *delay_criteria(case),
        *rise_criteria(case),
        *lease_criteria(case),
        *dns_criteria(case),
        *web_criteria(case),
        *path_criteria(case),
    )
