"""A transfer reduced: goodput after the ramp-up with its interval, and the figures of RFC 6349."""

from __future__ import annotations

from collections.abc import Sequence

from agent.measurements import Direction, TcpCounters, ThroughputStatistics, Transfer
from agent.stats import tcp
from agent.stats.quantiles import mean, smallest
from agent.stats.steady import MeanRate, Slice, mean_rate, slices_of, steady_from
from agent.units import BITS_PER_BYTE, MS_PER_S

_MOST_TRIMMED = 0.2
_BURST_ABOVE = 1.05
_SEGMENT_BYTES = 1460

_OPENING_ROUND_TRIPS = 8
"""Slow start doubles in each: ten segments (RFC 6928) become 2,560 in eight."""


def throughput_statistics(
    transfer: Transfer, direction: Direction, confidence: float = 0.95
) -> ThroughputStatistics:
    """Return the statistics of one direction.

    Retransmissions and buffer delay are the sender's knowledge: given for upload only, where this
    computer sends.
    """
    slices = _all_flows_open(transfer)
    cut = steady_from(slices, _opening_s(transfer))
    used = slices[cut:]
    found = mean_rate(used, _SEGMENT_BYTES, confidence)
    resent = _resent(transfer) if direction is Direction.UP else None
    return ThroughputStatistics(
        goodput_bps=_bits(found.rate) if found else None,
        low_bps=_bits(found.low) if found else None,
        high_bps=_bits(found.high) if found else None,
        bytes=sum(transfer.slice_bytes),
        flows=transfer.flows,
        counted_by=transfer.counted_by.value,
        ramp_s=used[0].begin_s if used else None,
        used_s=used[-1].end_s - used[0].begin_s if used else None,
        batches=found.batches if found else None,
        single_flow_bps=_bits(found.rate) if found and transfer.flows == 1 else None,
        burst_bps=_burst(slices[:cut], found),
        retransmit_ratio=resent[1] / resent[0] if resent else None,
        tcp_efficiency_ratio=tcp.efficiency_ratio(*resent) if resent else None,
        buffer_delay_ratio=_buffer_delay(transfer.tcp) if direction is Direction.UP else None,
        congestion_control=transfer.congestion_control,
        confidence=confidence,
    )


def _opening_s(transfer: Transfer) -> float:
    """Return how long slow start lasts, in seconds; zero where the round trip is not known."""
    least = smallest(r.min_rtt_ms for r in transfer.tcp if r.min_rtt_ms is not None)
    return 0.0 if least is None else _OPENING_ROUND_TRIPS * least / MS_PER_S


def _bits(octets: float | None) -> float | None:
    return None if octets is None else octets * BITS_PER_BYTE


def _all_flows_open(transfer: Transfer) -> tuple[Slice, ...]:
    """Return the slices without the ends where flows were still opening or already closing."""
    slices = slices_of(transfer.slice_end_s, transfer.slice_bytes)
    flows = transfer.slice_flows
    if len(flows) != len(transfer.slice_end_s) or len(slices) != len(flows) or not flows:
        return _without_stub(slices)
    most, spare = max(flows), int(len(flows) * _MOST_TRIMMED)
    first = next(i for i, n in enumerate(flows) if n == most)
    last = next(i for i, n in enumerate(reversed(flows)) if n == most)
    return _without_stub(slices[min(first, spare) : len(slices) - min(last, spare)])


def _without_stub(slices: Sequence[Slice]) -> tuple[Slice, ...]:
    """Drop a last slice of less than half the usual length: its edge weighs too much."""
    if len(slices) > 1 and slices[-1].span_s < slices[0].span_s / 2:
        return tuple(slices[:-1])
    return tuple(slices)


def _burst(ramp: Sequence[Slice], steady: MeanRate | None) -> float | None:
    """Return the highest rate of the cut start where it clearly exceeds the steady rate."""
    if not ramp or steady is None:
        return None
    fastest = max(s.octets / s.span_s for s in ramp)
    return _bits(fastest) if fastest > steady.rate * _BURST_ABOVE else None


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
