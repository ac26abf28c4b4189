"""A port reduced: what it carries at most."""

from __future__ import annotations

from agent.measurements import LinkFacts, LinkStatistics, Medium
from agent.stats.layers import USUAL_MTU_BYTES, Packet, payload_ceiling


def link_statistics(facts: LinkFacts) -> LinkStatistics:
    """Return the facts of a port that bound every other figure.

    The ceiling is that of TCP over IPv4 without options, the most any transfer can reach; radio
    has none, its speed is not the port's.
    """
    return LinkStatistics(
        up=facts.up,
        medium=facts.medium.value,
        speed_bps=facts.speed_bps,
        duplex=facts.duplex,
        mtu_bytes=facts.mtu_bytes,
        errors=facts.errors,
        ceiling_bps=_ceiling(facts),
        parent=facts.parent,
        parent_kind=facts.parent_kind,
        vlan_id=facts.vlan_id,
    )


def _ceiling(facts: LinkFacts) -> float | None:
    if facts.speed_bps is None or facts.medium not in (Medium.WIRED, Medium.PPP):
        return None
    return payload_ceiling(facts.speed_bps, Packet(mtu_bytes=facts.mtu_bytes or USUAL_MTU_BYTES))
