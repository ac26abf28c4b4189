"""STAMP test packets in authenticated mode (RFC 8762 §4.2.2, §4.3.2, §4.4; SSID of RFC 8972 §3).

The HMAC is HMAC-SHA-256 cut to 16 octets over the first six blocks of 16 (RFC 8762 §4.4). It is
checked before any other field is read.
"""

from __future__ import annotations

import hmac
import struct

from agent.codec.reader import Reader
from agent.codec.stamp import (
    ErrorEstimate,
    ReflectorPacket,
    SenderPacket,
    extra_padding,
    reflector_of,
)

AUTHENTICATED_LENGTH = 112
"""Octets of both packets without extensions (RFC 8762 §4.2.2, §4.3.2)."""

COVERED_LENGTH = 96
HMAC_LENGTH = 16
KEY_LENGTH = 32
"""The digest's own length: a shorter key weakens HMAC, a longer adds little (RFC 2104 §3)."""

SSID_AT = 26
TIMESTAMP_AT = 16

_SENDER = struct.Struct("!I12xQHH68x")
_REFLECTOR = struct.Struct("!I12xQHH4xQ8xI12xQH6xB15x")


def digest(key: bytes, covered: bytes | bytearray) -> bytes:
    """Return HMAC-SHA-256 of what is covered, cut to its first 16 octets (RFC 8762 §4.4)."""
    return hmac.digest(key, covered, "sha256")[:HMAC_LENGTH]


def is_authentic(data: bytes, key: bytes) -> bool:
    """Tell whether a packet is long enough for this mode and its HMAC is that of the key."""
    found = data[COVERED_LENGTH:AUTHENTICATED_LENGTH]
    return len(found) == HMAC_LENGTH and hmac.compare_digest(
        found, digest(key, data[:COVERED_LENGTH])
    )


def encode_authenticated_sender(
    packet: SenderPacket, key: bytes, length: int = AUTHENTICATED_LENGTH
) -> bytes:
    """Return a sender packet of `length` octets, at least 112.

    What exceeds the base form is one Extra Padding TLV, which alone needs no HMAC TLV (RFC 8972
    §4.8).
    """
    error = packet.error.word()
    covered = _SENDER.pack(packet.sequence, packet.timestamp, error, packet.ssid)
    return covered + digest(key, covered) + extra_padding(length - AUTHENTICATED_LENGTH)


def decode_authenticated_sender(data: bytes, key: bytes) -> SenderPacket:
    """Return the sender packet in `data`; raises MalformedMessage where key or length differ."""
    covered = _covered(data, key, "STAMP sender packet")
    sequence, timestamp, error, ssid = _SENDER.unpack(covered)
    return SenderPacket(
        sequence=sequence, timestamp=timestamp, error=ErrorEstimate.of_word(error), ssid=ssid
    )


def encode_authenticated_reflector(packet: ReflectorPacket, key: bytes) -> bytes:
    """Return a reflector packet of 112 octets."""
    covered = cover_reflector(packet)
    return covered + digest(key, covered)


def cover_reflector(packet: ReflectorPacket) -> bytes:
    """Return the 96 octets of a reflector packet that its HMAC covers."""
    return _REFLECTOR.pack(
        packet.sequence,
        packet.timestamp,
        packet.error.word(),
        packet.ssid,
        packet.receive_timestamp,
        packet.sender_sequence,
        packet.sender_timestamp,
        packet.sender_error.word(),
        packet.sender_ttl,
    )


def decode_authenticated_reflector(data: bytes, key: bytes) -> ReflectorPacket:
    """Return the reflector packet in `data`; raises MalformedMessage where key or length differ."""
    covered = _covered(data, key, "STAMP reflector packet")
    return reflector_of(_REFLECTOR.unpack(covered))


def _covered(data: bytes, key: bytes, message: str) -> bytes:
    reader = Reader(data, message)
    if len(data) < AUTHENTICATED_LENGTH:
        reader.fail(f"{AUTHENTICATED_LENGTH} octets are needed, {len(data)} are there")
    if not is_authentic(data, key):
        reader.limited(COVERED_LENGTH)
        reader.fail("its HMAC is not that of the key")
    return reader.bytes(COVERED_LENGTH)
