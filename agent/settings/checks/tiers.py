"""Tiers: their rates in order, and an accepted share that the line can reach."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import pairwise

from agent.settings.checks.parts import Parts, Problem
from agent.settings.keys import folded
from agent.settings.model import Tier


def tiers(parts: Parts) -> Iterator[Problem]:
    """Yield tiers whose rates contradict each other, and names that are too much alike."""
    yield from _alike(parts.tiers)
    for tier in parts.tiers:
        for way in ("down", "up"):
            yield from _ladder(tier, way)
            yield from _accepted(tier, way, parts)


def _alike(tiers: Sequence[Tier]) -> Iterator[Problem]:
    """A name is found whatever its case and marks, so they cannot tell two tiers apart."""
    first: dict[str, str] = {}
    for tier in tiers:
        other = first.setdefault(folded(tier.name), tier.name)
        if other != tier.name:
            yield Problem(
                path=("tiers", tier.name),
                found=f"the same name as {other!r} but for case and marks",
                allowed="names that differ in letters or digits",
            )


def odd_tiers(tiers: Sequence[Tier]) -> Iterator[Problem]:
    """Yield what can be meant but seldom is: a line set below what is sold, an advert above it."""
    for tier in tiers:
        if tier.provisioned is not None and tier.provisioned < 1:
            yield Problem(
                path=("tiers", tier.name, "provisioned"),
                found=f"{tier.provisioned:g}: the network is set below the rates sold",
                allowed="usually 1 or more",
            )
        yield from _advertised(tier)


def _advertised(tier: Tier) -> Iterator[Problem]:
    """An advert should not exceed the contract's maximum (BEREC BoR (20) 112, from memory)."""
    for key in ("down_bps", "up_bps"):
        if tier.advertised is None or tier.maximum is None:
            return
        value, most = getattr(tier.advertised, key), getattr(tier.maximum, key)
        if value > most:
            yield Problem(
                path=("tiers", tier.name, "advertised", key),
                found=f"{value:_}, over maximum.{key}",
                allowed=f"usually at most {most:_} bit/s",
            )


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
    if tier.maximum and getattr(tier.maximum, key) < accepted:
        yield Problem(
            path=("tiers", tier.name, "maximum", key),
            found=f"{getattr(tier.maximum, key):_}, under the accepted {accepted:_}",
            allowed=f"at least {accepted:_} bit/s, or a lower accept.{way}",
        )
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
