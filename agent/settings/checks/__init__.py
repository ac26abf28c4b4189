"""What sound values may still contradict: rules over two or more settings at once.

They run on every part that is sound by itself, so that a misspelt tier does not hide a plan that
cannot prove its limits. The loader adds to each problem the place it comes from.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator

from agent.settings.checks.addresses import addresses, line
from agent.settings.checks.fitness import fitness
from agent.settings.checks.limits import limits, provable, shares, web
from agent.settings.checks.parts import Parts, Problem
from agent.settings.checks.plans import plans
from agent.settings.checks.tiers import odd_tiers, tiers
from agent.settings.checks.usual import usual

__all__ = ["Parts", "Problem", "odd_tiers", "problems"]

_RULES: tuple[Callable[[Parts], Iterator[Problem]], ...] = (
    plans,
    tiers,
    limits,
    provable,
    shares,
    web,
    addresses,
    line,
    fitness,
    usual,
)


def problems(parts: Parts) -> Iterator[Problem]:
    """Yield every contradiction of the parts, in the order of the settings."""
    for rule in _RULES:
        yield from rule(parts)
