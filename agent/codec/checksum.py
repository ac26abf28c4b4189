"""The Internet checksum (RFC 1071)."""

from __future__ import annotations

_WORD = 0xFFFF


def ones_sum(data: bytes) -> int:
    """Return the 16-bit one's complement sum of `data`, an odd end filled up with zero."""
    even = data if len(data) % 2 == 0 else data + b"\0"
    # A number is congruent to the sum of its 16-bit digits modulo 2^16 - 1, which is what adding
    # with end-around carry computes (RFC 1071 §2); zero appears only for all-zero data.
    total = int.from_bytes(even, "big")
    return total % _WORD or (_WORD if total else 0)


def checksum(data: bytes) -> int:
    """Return the value of the checksum field for `data` with that field set to zero."""
    return ones_sum(data) ^ _WORD


def is_intact(data: bytes) -> bool:
    """Tell whether `data`, its checksum in place, sums to all ones (RFC 1071 §1)."""
    return ones_sum(data) == _WORD


def compensation(*words: int) -> int:
    """Return the 16-bit word that brings the one's complement sum of `words` to all ones."""
    return -sum(words) % _WORD
