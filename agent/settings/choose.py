"""Choosing from the settings: plan and tier by name, limits and accepted shares by access."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TypeVar

from agent.errors import UsageError
from agent.settings.allowed import closest
from agent.settings.keys import alike
from agent.settings.model import Accept, Access, LimitSet, Plan, Settings, Tier

OFFERED = 5

_Entry = TypeVar("_Entry", Plan, Tier)


def pick_plan(settings: Settings, name: str) -> Plan:
    """Return the plan of a name; case and marks do not matter. Raises UsageError."""
    return _pick(settings.plans, name, "plan")


def pick_tier(settings: Settings, name: str) -> Tier:
    """Return the tier of a name; case and marks do not matter. Raises UsageError."""
    return _pick(settings.tiers, name, "tier")


def limits_for(settings: Settings, access: Access) -> LimitSet:
    """Return the limits of an access technology, those of `unknown` where it has none."""
    return settings.limits.get(access) or settings.limits[Access.UNKNOWN]


def accept_for(settings: Settings, tier: Tier) -> Accept:
    """Return the accepted shares of a tier: its own, else those of its access technology."""
    by_access = settings.accept.get(tier.access) or settings.accept[Access.UNKNOWN]
    return tier.accept or by_access


def near(wanted: str, names: Sequence[str]) -> list[str]:
    """Return up to five names that hold the wanted text or resemble it, the best first."""
    folded = wanted.casefold()
    holding = [name for name in names if folded and folded in name.casefold()]
    return list(dict.fromkeys([*holding, *closest(wanted, names, OFFERED)]))[:OFFERED]


def _pick(entries: tuple[_Entry, ...], wanted: str, kind: str) -> _Entry:
    by_name = {entry.name: entry for entry in entries}
    found = wanted if wanted in by_name else alike(wanted, iter(by_name))
    if found is None:
        raise UsageError(
            problem=f"There is no {kind} named {wanted!r} in the settings.",
            remedy=_remedy(kind, near(wanted, list(by_name)), list(by_name)),
        )
    return by_name[found]


def _remedy(kind: str, offered: list[str], names: list[str]) -> str:
    if offered:
        return f"Nearest: {', '.join(offered)}."
    if names:
        return f"There are {len(names)}, among them {', '.join(names[:OFFERED])}."
    return f"The settings hold no {kind}; add one and name it with --settings."
