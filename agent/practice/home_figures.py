"""What a fault says of the way between laptop and home router, in `Effect.plays`.

`home_down_bps` and `home_up_bps` are its rates at the frame layer, `home_delay_ms` and
`home_jitter_ms` hold each way, `home_loss` is a ratio each way, `home_loss_run` the mean length of
a run of losses in packets.
"""

from __future__ import annotations

from agent.practice.tiers import frame_bps
from agent.settings.model import Layer


def port_figures(speed_bps: int) -> dict[str, float]:
    """Return what a cable between two ports of a speed carries each way, full frames."""
    carried = frame_bps(speed_bps, Layer.WIRE)
    return {"home_down_bps": carried, "home_up_bps": carried}
