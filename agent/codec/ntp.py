"""Client and server messages of the Network Time Protocol, version 4 (RFC 5905 §7.3).

Only the header of 48 octets is used; extension fields and message authentication codes that may
follow it are passed over. Time stamps are 64-bit numbers: seconds since 1900 in the high half, the
binary fraction in the low half.
"""

from __future__ import annotations

import struct
from dataclasses import dataclass

from agent.codec.reader import Reader
from agent.codec.stamp import NTP_UNIX_OFFSET_S
from agent.units import NS_PER_S

HEADER_LENGTH = 48
PORT = 123
"""RFC 5905 §7.2."""

VERSION = 4
CLIENT, SERVER = 3, 4
"""Association modes of RFC 5905 §3, Figure 1."""

UNSYNCHRONIZED_LEAP = 3
UNSYNCHRONIZED_STRATUM = 16
"""RFC 5905 §7.3: leap indicator 3 and strata from 16 on say that the far clock is not set."""

_HEADER = struct.Struct("!BBbbIIIQQQQ")
_FRACTION = 1 << 32
_WRAP = 1 << 64
_SHORT = 1 << 16


@dataclass(frozen=True, slots=True, kw_only=True)
class TimeReply:
    """What a server answered; time stamps are 64-bit numbers, the rest seconds.

    `reference_id` are the four octets as they came: at stratum 0 they are a kiss code.
    """

    leap: int
    version: int
    mode: int
    stratum: int
    poll: int
    precision: int
    root_delay_s: float
    root_dispersion_s: float
    reference_id: bytes
    reference: int
    origin: int
    receive: int
    transmit: int

    @property
    def kiss_code(self) -> str | None:
        """Return the code of a server that asks to be left alone (RFC 5905 §7.4), else None.

        Anything but four letters or digits of ASCII is no code and reads as "????".
        """
        if self.stratum != 0:
            return None
        text = self.reference_id.rstrip(b"\0").decode("ascii", "replace")
        return text if text.isascii() and text.isalnum() else "????"

    @property
    def synchronized(self) -> bool:
        """Tell whether the server says that its own clock is set, and gives the time."""
        told = 0 < self.stratum < UNSYNCHRONIZED_STRATUM and self.transmit != 0
        return told and self.receive != 0 and self.leap != UNSYNCHRONIZED_LEAP


def encode_request(transmit: int) -> bytes:
    """Return a client's request of 48 octets; `transmit` comes back as the reply's origin.

    Nothing else is told of this computer: a server needs no more than the mode (RFC 5905 §9.2).
    """
    return _HEADER.pack(VERSION << 3 | CLIENT, 0, 0, 0, 0, 0, 0, 0, 0, 0, transmit)


def encode_reply(reply: TimeReply) -> bytes:
    """Return a server's reply of 48 octets."""
    return _HEADER.pack(
        reply.leap << 6 | reply.version << 3 | reply.mode,
        reply.stratum,
        reply.poll,
        reply.precision,
        round(reply.root_delay_s * _SHORT),
        round(reply.root_dispersion_s * _SHORT),
        int.from_bytes(reply.reference_id, "big"),
        reply.reference,
        reply.origin,
        reply.receive,
        reply.transmit,
    )


def decode_reply(data: bytes) -> TimeReply:
    """Return the reply in `data`; raises MalformedMessage where it is none of a server's."""
    reader = Reader(data, "NTP reply")
    first, stratum, poll, precision, delay, dispersion, identity, *stamps = _HEADER.unpack(
        reader.bytes(HEADER_LENGTH)
    )
    mode, version = first & 7, first >> 3 & 7
    if mode != SERVER or not 1 <= version <= VERSION:
        reader.fail(f"version {version}, mode {mode}")
    reference, origin, receive, transmit = stamps
    return TimeReply(
        leap=first >> 6,
        version=version,
        mode=mode,
        stratum=stratum,
        poll=poll,
        precision=precision,
        root_delay_s=delay / _SHORT,
        root_dispersion_s=dispersion / _SHORT,
        reference_id=identity.to_bytes(4, "big"),
        reference=reference,
        origin=origin,
        receive=receive,
        transmit=transmit,
    )


def decode_transmit(data: bytes) -> int:
    """Return the transmit time stamp of a client's request; raises MalformedMessage."""
    reader = Reader(data, "NTP request")
    first, *_, transmit = _HEADER.unpack(reader.bytes(HEADER_LENGTH))
    if first & 7 != CLIENT:
        reader.fail(f"mode {first & 7}")
    return int(transmit)


def from_unix_ns(unix_ns: int) -> int:
    """Return the time stamp of nanoseconds since 1970, within its era of 136 years."""
    seconds, rest = divmod(unix_ns, NS_PER_S)
    fraction = rest * _FRACTION // NS_PER_S
    return ((seconds + NTP_UNIX_OFFSET_S) * _FRACTION + fraction) % _WRAP


def apart_s(later: int, earlier: int) -> float:
    """Return how many seconds one time stamp is after another, up to 68 years either way.

    The difference is taken as a signed number of 64 bits, so that it is right across the end of an
    era (RFC 5905 §6).
    """
    difference = (later - earlier) % _WRAP
    return (difference - _WRAP if difference >= _WRAP // 2 else difference) / _FRACTION
