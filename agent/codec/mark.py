"""The mark every own probe carries in its payload: whose it is and which one.

Ten octets: nonce (4), number (4), and a word that cancels them in the one's complement sum, so
that the transport checksum, and with it the flow that routers see, stays the same for all probes.
"""

from __future__ import annotations

import struct
from dataclasses import dataclass

from agent.codec.checksum import compensation

MARK_LENGTH = 10
_MARK = struct.Struct("!IIH")


@dataclass(frozen=True, slots=True, kw_only=True)
class Mark:
    """The identity of one probe: `nonce` of the run, `number` within it, both 32 bits."""

    nonce: int
    number: int


def encode_mark(mark: Mark, length: int = MARK_LENGTH) -> bytes:
    """Return a payload of `length` octets, at least ten, that begins with the mark."""
    return _MARK.pack(mark.nonce, mark.number, _cancelling(mark)).ljust(length, b"\0")


def find_mark(payload: bytes) -> Mark | None:
    """Return the mark a payload begins with; None where there is none or it was cut off."""
    if len(payload) < MARK_LENGTH:
        return None
    nonce, number, word = _MARK.unpack_from(payload)
    mark = Mark(nonce=nonce, number=number)
    return mark if word == _cancelling(mark) else None


def _cancelling(mark: Mark) -> int:
    return compensation(*struct.unpack("!4H", struct.pack("!II", mark.nonce, mark.number)))
