"""What was played on a line beside its rates, delay and loss, as a record keeps it."""

from __future__ import annotations

from agent.practice.line import LineSpec
from agent.practice.upstream import server_port_bps

Played = dict[str, str | float]


def played_on(spec: LineSpec) -> Played:
    """Return what a struck line does out of the ordinary, unit in the name."""
    return {name: value for name, value in _all(spec).items() if value}


def _all(spec: LineSpec) -> dict[str, str | float | None]:
    beyond, busy, narrow = spec.beyond, spec.beyond.busy, spec.path.narrow
    share = beyond.server_share
    return {
        "queue_ms": spec.queue_ms,
        "loss_run": spec.burst if spec.burst > 1 else None,
        "dark_s": spec.dark_s,
        "dark_every_s": spec.dark_every_s,
        "product": _product(spec),
        "core_loss": beyond.core_loss,
        "detour_ms": beyond.detour_ms,
        "busy_left_share": busy.left_share if busy else None,
        "busy_swing_s": busy.swing_s if busy else None,
        "server_port_bps": server_port_bps(spec, share) if share else None,
        "path_mtu_bytes": narrow.mtu_bytes if narrow else None,
    }


def _product(spec: LineSpec) -> str | None:
    """Return the other product of the catalogue that the line carries, if it does."""
    carried = (spec.line_down_bps, spec.line_up_bps)
    return next((p.name for p in spec.products if (p.down_bps, p.up_bps) == carried), None)
