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
from agent.assessment.fitness import fitness_facts, void
from agent.assessment.limiter import limiters_of
from agent.assessment.model import Assessment, Criterion, FitnessFact, Limiter, Verdict
from agent.assessment.verdict_table import Standing, deciding, row_of


def assess(case: Case) -> Assessment:
    """Return the criteria of a visit, what was unfit, who limited it, and the verdict."""
    facts, limiters = fitness_facts(case), limiters_of(case)
    criteria = tuple(void(case, c, facts) for c in _criteria(case, limiters))
    verdict, decided_by = conclude_verdict(criteria, facts, has_tier=case.tier is not None)
    return Assessment(
        verdict=verdict,
        criteria=criteria,
        fitness=(*facts, *port_facts(case)),
        deciding=decided_by,
        rule=case.rule,
        limiters=limiters,
    )


def conclude_verdict(
    criteria: Sequence[Criterion], facts: Sequence[FitnessFact], *, has_tier: bool
) -> tuple[Verdict, tuple[str, ...]]:
    """Return the verdict and what decided it, by the written table."""
    standing = Standing(criteria=criteria, facts=facts, has_tier=has_tier)
    row = row_of(standing)
    return row.verdict, deciding(row, standing)


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
