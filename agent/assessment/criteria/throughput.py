"""Goodput against the accepted rate of the tier, both at the TCP payload."""

from __future__ import annotations

from dataclasses import dataclass, replace

from agent.assessment.case import Case
from agent.assessment.decide import Promise, Reading, judged, unjudged
from agent.assessment.evidence import Item
from agent.assessment.model import Criterion, FitnessFact, Sense, Verdict
from agent.measurements import Direction, Kind, Reason, ThroughputStatistics, Transfer
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

_PORT_SHARE = 0.97
_FULL_PORT_BPS = 1_000_000_000
"""What a sound copper port comes up at; below it two wires are missing (IEEE 802.3 cl. 25, 40)."""


def throughput_criteria(case: Case) -> tuple[Criterion, ...]:
    """Return the criteria of both directions."""
    return tuple(_criterion(case, way) for way in (Direction.DOWN, Direction.UP))


def port_facts(case: Case) -> tuple[FitnessFact, ...]:
    """Return the fact that the port cannot carry the tier, once, where it is so."""
    for direction in (Direction.DOWN, Direction.UP):
        item = _item(case, direction)
        target = _target(case, item, direction) if case.tier is not None else None
        if target is not None and not target.port_fits:
            return (
                FitnessFact(
                    name="port_ceiling",
                    voids=tuple(case.settings.fitness.port_ceiling.voids),
                    measured=target.ceiling_bps,
                    threshold=target.limit_bps,
                    unit="bps",
                ),
            )
    return ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Target:
    """The rate to reach at the payload, and what the port can carry there, bit/s."""

    limit_bps: float
    converted: str
    ceiling_bps: float | None
    speed_bps: int | None
    tier_bps: int

    @property
    def port_fits(self) -> bool:
        """Tell whether the port can show the accepted rate with a little to spare."""
        return self.ceiling_bps is None or self.limit_bps <= self.ceiling_bps * _PORT_SHARE

    @property
    def port_is_full_size(self) -> bool:
        """Tell whether the port is as fast as the tier's name, or as fast as such ports come."""
        speed = self.speed_bps or 0
        return speed >= min(self.tier_bps, _FULL_PORT_BPS)


def _criterion(case: Case, direction: Direction) -> Criterion:
    item = _item(case, direction)
    if case.tier is None:
        return _without_tier(case, item, direction)
    target = _target(case, item, direction)
    promise = _promise(case, target, direction)
    if item is None or item.throughput is None or item.throughput.goodput_bps is None:
        return _rated(unjudged(promise, case.missing(item, Kind.THROUGHPUT)), target)
    found = judged(promise, _reading(item.throughput), _ids(case, direction), case.rule)
    return _rated(_sound(case, found, item, target, direction), target)


def _item(case: Case, direction: Direction) -> Item | None:
    """Return the best transfer of a direction: what a line has shown, it can do."""
    found = list(case.evidence.select(Kind.THROUGHPUT, direction=direction))

    def rate(item: Item) -> float:
        measured = item.throughput.goodput_bps if item.throughput else None
        return -1.0 if measured is None else measured

    return max(found, key=rate, default=None)


def _ids(case: Case, direction: Direction) -> tuple[str, ...]:
    return tuple(i.id for i in case.evidence.select(Kind.THROUGHPUT, direction=direction))


def _reading(found: ThroughputStatistics) -> Reading:
    return Reading(
        measured=found.goodput_bps or 0.0,
        low=found.low_bps,
        high=found.high_bps,
        confidence=found.confidence,
    )


def _without_tier(case: Case, item: Item | None, direction: Direction) -> Criterion:
    found = item.throughput if item else None
    return Criterion(
        name=f"throughput-{direction.value}",
        measurements=_ids(case, direction),
        needed=True,
        sense=Sense.AT_LEAST,
        unit="bps",
        layer="payload",
        limit=None,
        limit_source="no tier",
        outcome=Verdict.NOT_PROVEN,
        measured=found.goodput_bps if found else None,
        low=found.low_bps if found else None,
        high=found.high_bps if found else None,
        confidence=found.confidence if found else None,
        reason=Reason(code="no-tier"),
    )


def _promise(case: Case, target: Target, direction: Direction) -> Promise:
    """Return the accepted rate, or the port's own where it is the smaller one."""
    port = not target.port_fits and target.port_is_full_size and target.ceiling_bps is not None
    limit = target.ceiling_bps * _PORT_SHARE if port and target.ceiling_bps else target.limit_bps
    own = case.tier is not None and case.tier.accept is not None
    source = "tier" if own else "settings accept"
    return Promise(
        name=f"throughput-{direction.value}",
        sense=Sense.AT_LEAST,
        unit="bps",
        limit=limit,
        source="port ceiling" if port else source,
        needed=True,
    )


def _rated(found: Criterion, target: Target) -> Criterion:
    least = found.limit_source == "port ceiling" and found.outcome is Verdict.MEETS
    return replace(found, layer="payload", converted=target.converted, at_least=least)


def _sound(
    case: Case, found: Criterion, item: Item, target: Target, direction: Direction
) -> Criterion:
    """Take back what this measurement cannot support."""
    if item.partial:
        return _not_proven(found, case.missing(item, Kind.THROUGHPUT))
    if found.outcome is not Verdict.BELOW:
        return found
    if not target.port_fits and not target.port_is_full_size:
        values = {"speed_bps": target.speed_bps, "ceiling_bps": target.ceiling_bps}
        return _not_proven(found, Reason(code="port-ceiling", values=values))
    stated = case.circumstances.nothing_else_on
    if stated is not True:
        return _not_proven(
            found, Reason(code="others-on" if stated is False else "others-on-unknown")
        )
    if len(_ids(case, direction)) < 2:
        return replace(found, reason=Reason(code="single-measurement"))
    return found


def _not_proven(found: Criterion, reason: Reason) -> Criterion:
    return replace(found, outcome=Verdict.NOT_PROVEN, reason=reason)


def _target(case: Case, item: Item | None, direction: Direction) -> Target:
    tier = case.tier
    assert tier is not None
    packet, assumed = _packet(case, item)
    down = direction is Direction.DOWN
    accept = accept_for(case.settings, tier)
    rate = (tier.down_bps if down else tier.up_bps) * (accept.down if down else accept.up)
    link = case.evidence.link_statistics()
    wired = link is not None and link.ceiling_bps is not None
    speed = link.speed_bps if link is not None and wired else None
    port = replace(packet, wrapping_bytes=PPPOE_BYTES if link and link.medium == "ppp" else 0)
    return Target(
        limit_bps=convert(rate, packet, tier.layer.value, "payload"),
        converted=_written(tier, packet, assumed=assumed),
        ceiling_bps=None if speed is None else payload_ceiling(speed, port),
        speed_bps=speed,
        tier_bps=tier.down_bps if down else tier.up_bps,
    )


def _packet(case: Case, item: Item | None) -> tuple[Packet, bool]:
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
