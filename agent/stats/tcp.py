"""The figures of RFC 6349 about a TCP connection."""

from __future__ import annotations

import math

from agent.units import BITS_PER_BYTE, MS_PER_S


def bandwidth_delay_bits(rate_bps: float, rtt_ms: float) -> float:
    """Return the bandwidth-delay product in bits (RFC 6349 §3.3.1)."""
    return rate_bps * rtt_ms / MS_PER_S


def least_window_bytes(rate_bps: float, rtt_ms: float) -> float:
    """Return the smallest receive window that fills the path (RFC 6349 §3.3.1)."""
    return bandwidth_delay_bits(rate_bps, rtt_ms) / BITS_PER_BYTE


def window_limit_bps(window_bytes: float, rtt_ms: float) -> float | None:
    """Return the rate one window per round trip allows (RFC 6349 §3.3.1)."""
    return window_bytes * BITS_PER_BYTE * MS_PER_S / rtt_ms if rtt_ms > 0 else None


def flows_to_fill(rate_bps: float, rtt_ms: float, window_bytes: float) -> int:
    """Return how many connections of one window fill the path (RFC 6349 §5.1)."""
    return max(1, math.ceil(least_window_bytes(rate_bps, rtt_ms) / window_bytes))


def transfer_time_ratio(actual_s: float, ideal_s: float) -> float | None:
    """Return actual over ideal transfer time (RFC 6349 §4.1)."""
    return actual_s / ideal_s if ideal_s > 0 else None


def efficiency_ratio(sent_bytes: float, resent_bytes: float) -> float | None:
    """Return the share of sent octets that were not retransmissions (RFC 6349 §4.2).

    `sent_bytes` includes the retransmitted ones.
    """
    return (sent_bytes - resent_bytes) / sent_bytes if sent_bytes > 0 else None


def buffer_delay_ratio(mean_rtt_ms: float, baseline_rtt_ms: float) -> float | None:
    """Return the rise of the round trip over its baseline (RFC 6349 §4.3)."""
    if baseline_rtt_ms <= 0:
        return None
    return (mean_rtt_ms - baseline_rtt_ms) / baseline_rtt_ms
