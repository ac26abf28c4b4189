"""Named units and conversions: rates are decimal bits per second, sizes are bytes (octets)."""

from __future__ import annotations

BITS_PER_BYTE = 8
MS_PER_S = 1_000.0
NS_PER_S = 1_000_000_000

KILO = 1_000
MEGA = 1_000_000
GIGA = 1_000_000_000


def ms_from_s(seconds: float) -> float:
    """Return milliseconds for seconds."""
    return seconds * MS_PER_S


def bps(count_bytes: float, seconds: float) -> float | None:
    """Return bits per second for bytes in seconds; None where no time has passed."""
    return count_bytes * BITS_PER_BYTE / seconds if seconds > 0 else None
