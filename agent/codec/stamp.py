"""STAMP test packets in unauthenticated mode (RFC 8762 §4.2.1, §4.3.1; SSID of RFC 8972 §3).

Packets longer than the base form are accepted and what follows it is ignored. Time stamps are
64-bit NTP numbers: seconds since 1900 in the high half, the binary fraction in the low half.
"""

from __future__ import annotations

import struct
from dataclasses import dataclass

from agent.codec.reader import Reader
from agent.units import NS_PER_S

BASE_LENGTH = 44
"""Octets of both packets without extensions (RFC 8762 §4.2.1, §4.3.1)."""

SSID_AT = 14
TIMESTAMP_AT = 4

NTP_UNIX_OFFSET_S = 2_208_988_800
"""Seconds from 1900-01-01 to 1970-01-01: 25567 days (RFC 5905 §6, Figure 4)."""

_ERA_S = 1 << 32
_FRACTION = 1 << 32
_TOP_BIT = 1 << 63
_TLV_HEADER = 4
_TLV_EXTRA_PADDING = 1
_TLV_UNRECOGNIZED = 0x80

_SENDER = struct.Struct("!IQHH28x")
_REFLECTOR = struct.Struct("!IQHHQIQH2xB3x")


@dataclass(frozen=True, slots=True, kw_only=True)
class ErrorEstimate:
    """How far a time stamp may be off (RFC 8762 §4.2.1 Figure 3, RFC 4656 §4.1.2).

    `synchronized` is the S bit, `ptp` the Z bit (0: NTP format). RFC 4656 would have packets with
    multiplier 0 discarded; they are kept, for a fault in this field does not make a packet lost.
    """

    synchronized: bool = False
    ptp: bool = False
    scale: int = 0
    multiplier: int = 1

    @property
    def seconds(self) -> float | None:
        """Return the estimate in seconds; None where the multiplier says there is none."""
        return self.multiplier * 2.0 ** (self.scale - 32) if self.multiplier else None

    def word(self) -> int:
        """Return the 16 bits of the field."""
        return self.synchronized << 15 | self.ptp << 14 | self.scale << 8 | self.multiplier

    @classmethod
    def of_word(cls, word: int) -> ErrorEstimate:
        """Return the estimate in 16 bits of the field."""
        return cls(
            synchronized=bool(word & 0x8000),
            ptp=bool(word & 0x4000),
            scale=word >> 8 & 0x3F,
            multiplier=word & 0xFF,
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class SenderPacket:
    """What the session-sender sends; `ssid` 0 where session identifiers are not in use."""

    sequence: int
    timestamp: int
    error: ErrorEstimate = ErrorEstimate()
    ssid: int = 0


@dataclass(frozen=True, slots=True, kw_only=True)
class ReflectorPacket:
    """What the session-reflector answers, with the sender's fields copied into it.

    `sequence` is the reflector's own count when it is stateful, else the sender's number.
    `timestamp` is when the reflector sent, `receive_timestamp` when it received.
    """

    sequence: int
    timestamp: int
    receive_timestamp: int
    sender_sequence: int
    sender_timestamp: int
    sender_ttl: int
    error: ErrorEstimate = ErrorEstimate()
    sender_error: ErrorEstimate = ErrorEstimate()
    ssid: int = 0


def encode_sender(packet: SenderPacket, length: int = BASE_LENGTH) -> bytes:
    """Return a sender packet of `length` octets, at least 44.

    What exceeds the base form is an Extra Padding TLV (RFC 8972 §4.1).
    """
    base = _SENDER.pack(packet.sequence, packet.timestamp, packet.error.word(), packet.ssid)
    return base + extra_padding(length - BASE_LENGTH)


def decode_sender(data: bytes) -> SenderPacket:
    """Return the sender packet in `data`; raises MalformedMessage for fewer than 44 octets."""
    base = Reader(data, "STAMP sender packet").bytes(BASE_LENGTH)
    sequence, timestamp, error, ssid = _SENDER.unpack(base)
    return SenderPacket(
        sequence=sequence, timestamp=timestamp, error=ErrorEstimate.of_word(error), ssid=ssid
    )


def encode_reflector(packet: ReflectorPacket, length: int = BASE_LENGTH) -> bytes:
    """Return a reflector packet of `length` octets, at least 44, padded like its request."""
    base = _REFLECTOR.pack(
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
    return base + extra_padding(length - BASE_LENGTH, flags=0)


def decode_reflector(data: bytes) -> ReflectorPacket:
    """Return the reflector packet in `data`; raises MalformedMessage for fewer than 44 octets."""
    base = Reader(data, "STAMP reflector packet").bytes(BASE_LENGTH)
    return reflector_of(_REFLECTOR.unpack(base))


def reflector_of(fields: tuple[int, ...]) -> ReflectorPacket:
    """Return the packet of nine fields in their order on the wire, which both modes share."""
    own, sent, error, ssid, received, sequence, stamp, sender_error, ttl = fields
    return ReflectorPacket(
        sequence=own,
        timestamp=sent,
        receive_timestamp=received,
        sender_sequence=sequence,
        sender_timestamp=stamp,
        sender_ttl=ttl,
        error=ErrorEstimate.of_word(error),
        sender_error=ErrorEstimate.of_word(sender_error),
        ssid=ssid,
    )


def ntp_from_unix_ns(unix_ns: int) -> int:
    """Return the 64-bit NTP stamp nearest to nanoseconds since 1970 (RFC 5905 §6)."""
    seconds, rest = divmod(unix_ns, NS_PER_S)
    fraction = (rest * _FRACTION + NS_PER_S // 2) // NS_PER_S
    return (seconds + NTP_UNIX_OFFSET_S) % _ERA_S * _FRACTION + fraction


def unix_ns_from_ntp(stamp: int) -> int:
    """Return nanoseconds since 1970 for a 64-bit NTP stamp.

    A stamp with its top bit clear lies in the era that begins in 2036 (RFC 4330 §3).
    """
    seconds, fraction = divmod(stamp, _FRACTION)
    era = 0 if stamp & _TOP_BIT else _ERA_S
    rest = (fraction * NS_PER_S + _FRACTION // 2) // _FRACTION
    return (seconds + era - NTP_UNIX_OFFSET_S) * NS_PER_S + rest


def extra_padding(count: int, flags: int = _TLV_UNRECOGNIZED) -> bytes:
    """Return `count` octets behind the base form: an Extra Padding TLV (RFC 8972 §4.1).

    What is too short for its header is zeros. Raises ValueError for a count below zero.
    """
    if count < 0:
        msg = f"a STAMP packet is no shorter than its base form, not by {-count} octets"
        raise ValueError(msg)
    if count < _TLV_HEADER:
        return bytes(count)
    length = count - _TLV_HEADER
    return struct.pack("!BBH", flags, _TLV_EXTRA_PADDING, length) + bytes(length)
