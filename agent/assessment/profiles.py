"""The products of the catalogue as their lines would show them: rates at the payload."""

from __future__ import annotations

from dataclasses import dataclass

from agent.assessment.case import Case
from agent.assessment.target import packet_of
from agent.measurements import Direction, Kind
from agent.stats.layers import convert

_AS_SOLD = 1.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Profile:
    """What a line that carries a product is set to, payload bit/s; `own` is the product sold."""

    name: str
    down_bps: float
    up_bps: float
    own: bool


def profiles_of(case: Case) -> tuple[Profile, ...]:
    """Return the products at the layer and with the headers of this visit's transfers."""
    item = case.evidence.first(Kind.THROUGHPUT, direction=Direction.DOWN)
    packet, _ = packet_of(case, item)
    return tuple(
        Profile(
            name=tier.name,
            down_bps=convert(tier.down_bps * share, packet, tier.layer.value, "payload"),
            up_bps=convert(tier.up_bps * share, packet, tier.layer.value, "payload"),
            own=case.tier is not None and tier.name == case.tier.name,
        )
        for tier in case.settings.tiers
        for share in (tier.provisioned or _AS_SOLD,)
    )
