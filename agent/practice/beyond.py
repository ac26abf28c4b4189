"""What the operator's network and its server do besides forwarding: loss, ways round, crowds.

All of it lies past the edge, so that the access line itself stays as it was ordered.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

HOPS_OF_A_DETOUR = 3
"""Core routers of a way with a detour: one before it, two past it."""


@dataclass(frozen=True, slots=True, kw_only=True)
class BusyEdge:
    """Other customers' traffic on the link between edge and core.

    It leaves this customer `left_share` of the tier's rate each way; whoever fills the link gains a
    little more, since of a full queue the crowd loses packets too. With `swing_s` it comes and
    goes: seconds from one rush to the next, on average; 0 is without end.
    """

    left_share: float
    swing_s: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class BeyondSpec:
    """The operator's side of a line.

    `core_loss` is lost each way between edge and first core router, a ratio of IP packets.
    `detour_ms` is what a way round adds to the round trip between the first core router and the
    server, but not to hosts outside. `server_share` is the speed of the server's own port as a
    share of the tier's rate towards the home. Over the link behind the edge packets of more than
    `hole_mtu_bytes` vanish.
    """

    core_loss: float = 0.0
    detour_ms: float = 0.0
    busy: BusyEdge | None = None
    server_share: float | None = None
    hole_mtu_bytes: int | None = None

    def can_be_played(self) -> bool:
        """Tell whether ratios are ratios and delays no gain of time."""
        shares = [self.server_share] if self.server_share is not None else []
        shares += [self.busy.left_share] if self.busy else []
        swing_s = self.busy.swing_s if self.busy else 0.0
        whole = all(0 < share <= 1 for share in shares) and 0 <= self.core_loss < 1
        return whole and self.detour_ms >= 0 and swing_s >= 0


def beyond_from(document: Mapping[str, Any]) -> BeyondSpec:
    """Return the specification of a document made of it by `dataclasses.asdict`."""
    busy = document["busy"]
    return BeyondSpec(**{**document, "busy": BusyEdge(**busy) if busy else None})
