"""Limits: their units and values, and whether the plans can prove them."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass

from agent.measurements import Kind
from agent.settings.allowed import number
from agent.settings.checks.parts import Parts, Problem
from agent.settings.keys import Path
from agent.settings.model import Limit, Plan

Z_95 = 1.959963984540054
"""Two-sided 95 % point of the normal distribution."""


def probes_needed(limit: float) -> int:
    """Return the probes of which none may be lost to prove a loss ratio at 95 %.

    Wilson (1927), upper bound of 0 in n: z² / (n + z²). For 1 %: 381, 0.5 %: 765, 0.1 %: 3,838.
    """
    return math.ceil(Z_95**2 * (1 - limit) / limit)


@dataclass(frozen=True, slots=True)
class _Judged:
    """How a limit may be written, and for a ratio which of a plan's counts has to prove it."""

    units: tuple[str, ...]
    step: Kind | None = None
    count_key: tuple[str, str] = ("", "")


_MS = _Judged(("ms",))
_SHARE = _Judged(("ratio",))
_JUDGED = {
    "gateway_loss": _Judged(("count", "ratio"), Kind.DELAY, ("near_echo", "count")),
    "server_loss": _Judged(("ratio",), Kind.DELAY, ("server_echo", "count")),
    "gateway_delay_median": _MS,
    "gateway_delay_p95": _MS,
    "first_hop_delay_median": _MS,
    "server_delay_median": _MS,
    "server_delay_variation": _MS,
    "server_delay_rise": _MS,
    "dns_median": _MS,
    "dns_p95": _MS,
    "dns_unanswered": _Judged(("count", "ratio"), Kind.DNS, ("dns", "queries")),
    "web_reached": _Judged(("count", "ratio")),
    "web_total": _MS,
    "down_share": _SHARE,
    "up_share": _SHARE,
}


def limits(parts: Parts) -> Iterator[Problem]:
    """Yield limits in a unit or with a value that their criterion cannot have."""
    for path, limit in _each(parts):
        yield from _limit(path, limit, _JUDGED[path[-1]])


def _limit(path: Path, limit: Limit, judged: _Judged) -> Iterator[Problem]:
    if limit.unit not in judged.units:
        allowed = " or ".join(f'"{unit}"' for unit in judged.units)
        yield Problem(path=(*path, "unit"), found=f'"{limit.unit}"', allowed=allowed)
        return
    wrong = _value_wrong(limit)
    if wrong:
        yield Problem(path=(*path, "value"), found=number(limit.value), allowed=wrong)


def _value_wrong(limit: Limit) -> str | None:
    match limit.unit:
        case "ratio" if not 0 < limit.value <= 1:
            return "a share > 0 and ≤ 1: 0.5 % is 0.005"
        case "count" if limit.value < 0 or not limit.value.is_integer():
            return "a whole number ≥ 0"
        case "ms" | "s" if limit.value <= 0:
            return f"more than 0 ({limit.unit})"
    return None


def provable(parts: Parts) -> Iterator[Problem]:
    """Yield needed loss limits that a plan which measures them has too few probes to prove."""
    claims = [
        ((*path, "value"), limit.value, _JUDGED[path[-1]])
        for path, limit in _each(parts)
        if limit.needed and limit.unit == "ratio"
    ]
    claims += [
        (("tiers", tier.name, "loss_ratio"), tier.loss_ratio, _JUDGED["server_loss"])
        for tier in parts.tiers
        if tier.loss_ratio is not None
    ]
    for path, value, judged in claims:
        for plan in parts.plans:
            yield from _unproven(path, value, plan, judged)


def _each(parts: Parts) -> Iterator[tuple[Path, Limit]]:
    for access, limit_set in parts.limits.items():
        for name, limit in limit_set:
            if isinstance(limit, Limit):
                yield ("limits", access.value, name), limit


def _unproven(path: Path, limit: float, plan: Plan, judged: _Judged) -> Iterator[Problem]:
    if judged.step is None or judged.step not in plan.steps or not 0 < limit <= 1:
        return
    count = getattr(getattr(plan, judged.count_key[0]), judged.count_key[1])
    needed = probes_needed(limit)
    if count < needed:
        key = ".".join(judged.count_key)
        yield Problem(
            path=path,
            found=f"{number(limit)}, which {count} probes of plan {plan.name!r} cannot prove",
            allowed=f"a higher limit, or plan {plan.name!r} with {key} of at least {needed:_}",
            other=Problem(
                path=("plans", plan.name, *judged.count_key),
                found=f"{count}, which cannot prove a limit of {number(limit)}",
                allowed=f"at least {needed:_}, or a higher limit",
            ),
        )


def shares(parts: Parts) -> Iterator[Problem]:
    """Yield shares of the tier given as limits: they stand in `accept`, in one place only."""
    for path, _ in _each(parts):
        if path[-1] in ("down_share", "up_share"):
            key = f"accept.{path[1]}.{path[-1].removesuffix('_share')}"
            yield Problem(path=path, found="a share of the tier", allowed=f"only in {key}")


def web(parts: Parts) -> Iterator[Problem]:
    """Yield needed counts of pages that the targets cannot reach."""
    if parts.targets is None:
        return
    pages = len(parts.targets.web)
    fetching = any(Kind.HTTP in plan.steps for plan in parts.plans)
    for path, limit in _each(parts):
        counted = path[-1] == "web_reached" and limit.unit == "count"
        if counted and fetching and limit.needed and limit.value > pages:
            found = f"{number(limit.value)}, more than the {pages} pages of targets.web"
            allowed = f"at most {pages}, or more pages"
            yield Problem(path=(*path, "value"), found=found, allowed=allowed)
