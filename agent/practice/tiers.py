"""From a tier as it is sold to a practice line that carries it."""

from __future__ import annotations

from collections.abc import Iterable

from agent.practice.line import PROVISIONED, LineSpec
from agent.practice.products import Product
from agent.settings.model import Access, Layer, Tier

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
    catalogue: Iterable[Tier] = (),
) -> LineSpec:
    """Return a line that carries a tier; `down_bps` and `up_bps` are the line's own, at its layer.

    `loss` is the ratio each way, `catalogue` what else is sold. Raises UsageError.
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
        products=products_below(tier, catalogue),
    )


def products_below(tier: Tier, catalogue: Iterable[Tier]) -> tuple[Product, ...]:
    """Return the smaller products of a catalogue as the network would be set to them.

    Highest first, neither way faster than the tier; those over radio are left out for a tier on a
    wire, and the other way about, while there are any of the own kind.
    """
    smaller = [t for t in catalogue if t.down_bps < tier.down_bps and t.up_bps <= tier.up_bps]
    kin = [t for t in smaller if _over_radio(t) == _over_radio(tier)] or smaller
    return tuple(map(_provisioned, sorted(kin, key=lambda one: (-one.down_bps, -one.up_bps))))


def _over_radio(tier: Tier) -> bool:
    return tier.access is Access.WIRELESS


def _provisioned(tier: Tier) -> Product:
    times = tier.provisioned or PROVISIONED
    down_bps, up_bps = (frame_bps(rate, tier.layer) for rate in (tier.down_bps, tier.up_bps))
    return Product(name=tier.name, down_bps=round(times * down_bps), up_bps=round(times * up_bps))
