"""From a tier as it is sold to a practice line that carries it."""

from __future__ import annotations

from agent.practice.line import PROVISIONED, LineSpec
from agent.settings.model import Layer, Tier

OCTETS = {
    Layer.PAYLOAD: 1460,
    Layer.IP: 1500,
    Layer.FRAME: 1514,
    Layer.DOCSIS_FRAME: 1518,
    Layer.WIRE: 1538,
}
"""What a full packet counts for at each layer (IEEE 802.3 header 14, check sequence 4, gap 20)."""

SHALLOWEST_MS = 80.0
"""A queue of two round trips lets every congestion control in use keep a long line full."""


def frame_bps(rate_bps: float, layer: Layer) -> int:
    """Return the rate of frames that carries a rate counted at another layer, full packets."""
    return round(rate_bps * OCTETS[Layer.FRAME] / OCTETS[layer])


def line_for(
    tier: Tier,
    *,
    down_bps: int | None = None,
    up_bps: int | None = None,
    rtt_ms: float = 10.0,
    jitter_ms: float = 0.0,
    loss: float = 0.0,
    seed: int = 1,
) -> LineSpec:
    """Return a line that carries a tier; `down_bps` and `up_bps` are the line's own, at its layer.

    `loss` is the ratio each way. Raises UsageError.
    """
    return LineSpec(
        tier=tier.name,
        down_bps=frame_bps(tier.down_bps, tier.layer),
        up_bps=frame_bps(tier.up_bps, tier.layer),
        provisioned=tier.provisioned or PROVISIONED,
        line_down_bps=frame_bps(down_bps, tier.layer) if down_bps else None,
        line_up_bps=frame_bps(up_bps, tier.layer) if up_bps else None,
        rtt_ms=rtt_ms,
        jitter_ms=jitter_ms,
        loss_down=loss,
        loss_up=loss,
        buffer_ms=max(SHALLOWEST_MS, 2 * rtt_ms),
        seed=seed,
    )
