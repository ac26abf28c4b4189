"""A transfer reduced: goodput after the ramp-up with its interval, and the figures of RFC 6349."""

from __future__ import annotations

from collections.abc import Sequence

from agent.measurements import Direction, Ended, TcpCounters, ThroughputStatistics, Transfer
from agent.stats import tcp
from agent.stats.quantiles import mean, smallest
from agent.stats.slices import slices_of
from agent.stats.stages import single_flow
from agent.stats.sustained import Sustained, sustained
from agent.units import BITS_PER_BYTE, MS_PER_S

_OPENING_ROUND_TRIPS = 8
"""Slow start doubles in each: ten segments (RFC 6928) become 2,560 in eight."""


def throughput_statistics(
    transfer: Transfer, direction: Direction, confidence: float = 0.95
) -> ThroughputStatistics:
    """Return the statistics of one direction.

    Retransmissions and buffer delay are the sender's knowledge: given for upload only, where this
    computer sends.
    """
    found = _sustained(transfer, confidence)
    resent = _resent(transfer) if direction is Direction.UP else None
    return ThroughputStatistics(
        goodput_bps=_bits(found.mean.rate) if found else None,
        low_bps=_bits(found.mean.low) if found else None,
        high_bps=_bits(found.mean.high) if found else None,
        bytes=sum(transfer.slice_bytes),
        flows=transfer.flows,
        counted_by=transfer.counted_by.value,
        ramp_s=found.used[0].begin_s if found else None,
        used_s=found.used_s if found else None,
        batches=found.mean.batches if found else None,
        single_flow_bps=_bits(_single_flow(transfer, found)),
        burst_bps=_bits(found.burst) if found else None,
        retransmit_ratio=resent[1] / resent[0] if resent else None,
        tcp_efficiency_ratio=tcp.efficiency_ratio(*resent) if resent else None,
        buffer_delay_ratio=_buffer_delay(transfer.tcp) if direction is Direction.UP else None,
        congestion_control=transfer.congestion_control,
        confidence=confidence,
    )


def _sustained(transfer: Transfer, confidence: float) -> Sustained | None:
    adaptive = transfer.longest_s is not None
    return sustained(
        slices_of(transfer.slice_end_s, transfer.slice_bytes),
        transfer.slice_flows,
        longest_s=transfer.longest_s,
        early=transfer.ended is Ended.INTERVAL,
        confidence=confidence,
        opening_s=0.0 if adaptive else _opening_s(transfer),
    )


def _opening_s(transfer: Transfer) -> float:
    """Return how long slow start lasts, in seconds; zero where the round trip is not known."""
    least = smallest(r.min_rtt_ms for r in transfer.tcp if r.min_rtt_ms is not None)
    return 0.0 if least is None else _OPENING_ROUND_TRIPS * least / MS_PER_S


def _single_flow(transfer: Transfer, found: Sustained | None) -> float | None:
    """Return what one flow carried; None where it ran in a burst, as nobody saw it sustained."""
    if found is None or transfer.flows == 1:
        return found.mean.rate if found else None
    if found.burst is not None:
        return None
    return single_flow(slices_of(transfer.slice_end_s, transfer.slice_bytes), transfer.slice_flows)


def _bits(octets: float | None) -> float | None:
    return None if octets is None else octets * BITS_PER_BYTE


def _resent(transfer: Transfer) -> tuple[int, int] | None:
    """Return octets sent, retransmissions included, and retransmitted, over all flows."""
    sent = resent = 0
    for flow, last in enumerate(transfer.tcp):
        if last.bytes_sent is None or last.bytes_retransmitted is None:
            return None
        first = transfer.tcp_first[flow] if flow < len(transfer.tcp_first) else None
        sent += last.bytes_sent - ((first and first.bytes_sent) or 0)
        resent += last.bytes_retransmitted - ((first and first.bytes_retransmitted) or 0)
    return (sent, resent) if sent > 0 else None


def _buffer_delay(readings: Sequence[TcpCounters]) -> float | None:
    """Return the rise of the round trip under load over the least one that TCP saw."""
    loaded = mean([r.rtt_ms for r in readings if r.rtt_ms is not None])
    least = min((r.min_rtt_ms for r in readings if r.min_rtt_ms is not None), default=None)
    return None if loaded is None or least is None else tcp.buffer_delay_ratio(loaded, least)
