"""How a data cap is divided between the directions; pure."""

from __future__ import annotations

from agent.measurements import Direction
from agent.settings.model import ThroughputPlan, Tier

UNKNOWN_DOWN_SHARE = 0.8  # home tiers sell more down than up; common practice, no source


def byte_cap(
    plan: ThroughputPlan, tier: Tier | None, direction: Direction, max_bytes: int | None, used: int
) -> int:
    """Return how many bytes one direction may move under the plan and the visit's cap."""
    if max_bytes is None:
        return plan.max_bytes
    share = tier.down_bps / (tier.down_bps + tier.up_bps) if tier else UNKNOWN_DOWN_SHARE
    if direction is Direction.UP:
        return max(0, min(plan.max_bytes, max_bytes - used))
    return max(0, min(plan.max_bytes, int((max_bytes - used) * share)))
