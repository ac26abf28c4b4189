"""Packets of full size that vanish on the way, without a word to whoever sent them."""

from __future__ import annotations

from agent.diagnosis.facts import Facts
from agent.diagnosis.model import Segment
from agent.diagnosis.rule import Match
from agent.measurements import Kind, MtuStatistics, Role, Scalar

_UNKNOWN_TCP = 0.6
_LOSSY = 0.05
"""Beyond this loss packets of any size vanish, and a limit of size is not told from it."""


def large_packets_vanish(facts: Facts) -> Match | None:
    """Larger packets meet silence, and TCP is not held to what passes.

    A path of 1492 behind PPPoE is none where its router says so, or where the MSS keeps TCP within
    it: then nothing of a customer's is lost (RFC 8899 §4.6.2 for what a black hole is).
    """
    item = facts.evidence.first(Kind.PATH, Role.SERVER)
    found = item.path.mtu if item is not None and item.path is not None else None
    if item is None or found is None or found.path_mtu_bytes is None or _lossy(facts):
        return None
    if found.up_limit != "silent" or found.tcp_held_down or found.not_measured:
        return None
    place, step = _place(facts, found)
    values: dict[str, Scalar] = {
        "path_mtu_bytes": found.path_mtu_bytes,
        "vanish_after": found.vanish_after,
        "vanish_before": found.vanish_before,
        "tcp_mss_bytes": found.tcp_mss_bytes,
    }
    return Match(
        evidence=(item.id,),
        values=values,
        segment=place,
        next_step=step,
        confidence=_UNKNOWN_TCP if found.tcp_held_down is None else None,
    )


def _lossy(facts: Facts) -> bool:
    far = facts.sent_to(Role.SERVER)
    return far is not None and (far.loss_ratio or 0.0) > _LOSSY


def _place(facts: Facts, found: MtuStatistics) -> tuple[Segment, str | None]:
    """The router that should have said so is the last one that still took such a packet."""
    if found.vanish_after is None:
        return Segment.UNDETERMINED, None
    if facts.is_gateway(found.vanish_after):
        return facts.near_segment(), "set-router-mtu"
    return Segment.OPERATOR, None
