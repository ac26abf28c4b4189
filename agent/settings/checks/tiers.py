"""Tiers: their rates in order, and an accepted share that the line can reach."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import pairwise

from agent.settings.checks.parts import Parts, Problem
from agent.settings.model import Tier


def tiers(parts: Parts) -> Iterator[Problem]:
    """Yield tiers whose rates contradict each other."""
    for tier in parts.tiers:
        for way in ("down", "up"):
            yield from _ladder(tier, way)
            yield from _accepted(tier, way, parts)


def _ladder(tier: Tier, way: str) -> Iterator[Problem]:
    """Minimum, normal and maximum rise in this order (as contracts under (EU) 2015/2120 do)."""
    key = f"{way}_bps"
    steps = [
        (name, getattr(rates, key))
        for name, rates in (
            ("minimum", tier.minimum),
            ("normal", tier.normal),
            ("maximum", tier.maximum),
        )
        if rates
    ]
    for (lower_name, lower), (name, value) in pairwise(steps):
        if value < lower:
            yield Problem(
                path=("tiers", tier.name, name, key),
                found=f"{value:_}, under {lower_name}.{key}",
                allowed=f"at least {lower:_} bit/s",
            )


def _accepted(tier: Tier, way: str, parts: Parts) -> Iterator[Problem]:
    shares = tier.accept or parts.accept.get(tier.access)
    if shares is None:
        return
    share, key = getattr(shares, way), f"{way}_bps"
    accepted = round(share * getattr(tier, key))
    if tier.minimum and getattr(tier.minimum, key) > accepted:
        yield Problem(
            path=("tiers", tier.name, "minimum", key),
            found=f"{getattr(tier.minimum, key):_}, over the accepted {accepted:_}",
            allowed=f"at most {accepted:_} bit/s, or a higher accept.{way}",
        )
    if tier.provisioned is not None and tier.provisioned < share:
        yield Problem(
            path=("tiers", tier.name, "provisioned"),
            found=f"{tier.provisioned:g}, less than the accepted share {share:g}",
            allowed=f"at least {share:g}: the line must be able to reach what is accepted",
        )
