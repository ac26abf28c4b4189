"""The rate a direction has to reach at the payload, and what the port can carry there."""

from __future__ import annotations

from dataclasses import dataclass, replace

from agent.assessment.case import Case
from agent.assessment.evidence import Item
from agent.measurements import Direction, Transfer
from agent.settings.choose import accept_for
from agent.settings.model import Handover, Tier
from agent.stats.layers import (
    IPV4_TCP_BYTES,
    IPV6_TCP_BYTES,
    PPPOE_BYTES,
    TIMESTAMP_BYTES,
    USUAL_MTU_BYTES,
    Packet,
    convert,
    payload_ceiling,
)

_FULL_PORT_BPS = 1_000_000_000
"""What a sound copper port comes up at; below it two wires are missing (IEEE 802.3 cl. 25, 40)."""

_ALL_OF_THE_PORT = 1.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Target:
    """The rate to reach at the payload, and what the port can carry there, bit/s.

    `port_share` is the share of the ceiling from which on the port counts as filled.
    """

    limit_bps: float
    converted: str
    ceiling_bps: float | None
    port_share: float
    speed_bps: int | None
    tier_bps: int

    @property
    def port_fits(self) -> bool:
        """Tell whether the port can show the accepted rate with a little to spare."""
        return self.ceiling_bps is None or self.limit_bps <= self.ceiling_bps * self.port_share

    @property
    def port_is_full_size(self) -> bool:
        """Tell whether the port is as fast as the tier's name, or as fast as such ports come."""
        speed = self.speed_bps or 0
        return speed >= min(self.tier_bps, _FULL_PORT_BPS)


def target_of(case: Case, item: Item | None, direction: Direction) -> Target | None:
    """Return the target of a direction; None where nothing was sold."""
    tier = case.tier
    if tier is None:
        return None
    packet, assumed = packet_of(case, item)
    down = direction is Direction.DOWN
    accept = accept_for(case.settings, tier)
    rate = (tier.down_bps if down else tier.up_bps) * (accept.down if down else accept.up)
    return Target(
        limit_bps=convert(rate, packet, tier.layer.value, "payload"),
        converted=_written(tier, packet, assumed=assumed),
        ceiling_bps=ceiling_of(case, item),
        port_share=port_share(case),
        speed_bps=_speed(case),
        tier_bps=tier.down_bps if down else tier.up_bps,
    )


def ceiling_of(case: Case, item: Item | None) -> float | None:
    """Return the most payload per second the port can carry, bit/s; None where it has no speed."""
    speed = _speed(case)
    if speed is None:
        return None
    link = case.evidence.link_statistics()
    packet, _ = packet_of(case, item)
    wrapping = PPPOE_BYTES if link and link.medium == "ppp" else 0
    return payload_ceiling(speed, replace(packet, wrapping_bytes=wrapping))


def port_share(case: Case) -> float:
    """Return the share of its ceiling from which on a port counts as filled."""
    return case.settings.fitness.port_ceiling.threshold or _ALL_OF_THE_PORT


def _speed(case: Case) -> int | None:
    link = case.evidence.link_statistics()
    return link.speed_bps if link is not None and link.ceiling_bps is not None else None


def packet_of(case: Case, item: Item | None) -> tuple[Packet, bool]:
    """Return the full-size packet in force, and whether its headers had to be assumed."""
    seen = item.measurement.observed if item else None
    transfer = seen if isinstance(seen, Transfer) else None
    family = item.measurement.family if item else None
    usual = (IPV6_TCP_BYTES if family == 6 else IPV4_TCP_BYTES) + TIMESTAMP_BYTES
    header = transfer.header_bytes if transfer else None
    mtu = transfer.mtu_bytes if transfer else None
    wrapping = PPPOE_BYTES if case.circumstances.handover is Handover.PPPOE else 0
    packet = Packet(
        mtu_bytes=mtu or USUAL_MTU_BYTES, header_bytes=header or usual, wrapping_bytes=wrapping
    )
    return packet, header is None or mtu is None


def _written(tier: Tier, packet: Packet, *, assumed: bool) -> str:
    layer = tier.layer.value
    octets = f"{packet.bytes_at('payload')}/{packet.bytes_at(layer)}"
    return f"{layer}>payload {octets}{' assumed' if assumed else ''}"
