"""The tier as a record keeps it."""

from __future__ import annotations

from agent.record.model import TierFacts
from agent.settings.choose import accept_for
from agent.settings.model import Settings, Tier


def tier_facts(settings: Settings, tier: Tier) -> TierFacts:
    """Return the tier as it is judged under the settings."""
    accept = accept_for(settings, tier)
    return TierFacts(
        name=tier.name,
        down_bps=tier.down_bps,
        up_bps=tier.up_bps,
        layer=tier.layer.value,
        accept_down=accept.down,
        accept_up=accept.up,
        provisioned=tier.provisioned,
        minimum_down_bps=tier.minimum.down_bps if tier.minimum else None,
        minimum_up_bps=tier.minimum.up_bps if tier.minimum else None,
        normal_down_bps=tier.normal.down_bps if tier.normal else None,
        normal_up_bps=tier.normal.up_bps if tier.normal else None,
        maximum_down_bps=tier.maximum.down_bps if tier.maximum else None,
        maximum_up_bps=tier.maximum.up_bps if tier.maximum else None,
        advertised_down_bps=tier.advertised.down_bps if tier.advertised else None,
        advertised_up_bps=tier.advertised.up_bps if tier.advertised else None,
    )
