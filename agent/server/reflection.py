"""What a session-reflector answers to one packet (RFC 8762 §4.3, stateful). No socket here.

It answers only sources that hold a grant, in the mode of their session, and with exactly as many
octets as it was sent.
"""

from __future__ import annotations

import struct
from dataclasses import dataclass

from agent.codec import stamp, stamp_authenticated
from agent.codec.stamp import (
    BASE_LENGTH,
    ErrorEstimate,
    ReflectorPacket,
    SenderPacket,
    decode_sender,
    encode_reflector,
    ntp_from_unix_ns,
)
from agent.codec.stamp_authenticated import (
    AUTHENTICATED_LENGTH,
    COVERED_LENGTH,
    cover_reflector,
    decode_authenticated_sender,
    digest,
)
from agent.codec.stamp_extensions import reflected_chain
from agent.errors import MalformedMessage
from agent.server.sessions import Session, SessionBook

# Whether an outside source disciplines this clock is not known: S = 0, and 2^(22-32) s ≈ 1 ms.
OWN_ERROR = ErrorEstimate(synchronized=False, ptp=False, scale=22, multiplier=1)

_NTP = struct.Struct("!Q")
# Where a sender's fields end in authenticated mode, and zeros begin (RFC 8972 §3 Figure 3).
_SENDER_ENDS = 28


@dataclass(frozen=True, slots=True, kw_only=True)
class Arrival:
    """One packet off the socket: when it came (nanoseconds since 1970), whence, with what TTL."""

    data: bytes
    address: str
    at_ns: int
    hop_limit: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Reply:
    """An answer that lacks only the time of its sending; `key` is that of an authenticated one."""

    octets: bytearray
    key: bytes | None

    def stamped(self, sent: int) -> bytearray:
        """Return the answer with a 64-bit NTP stamp, and its HMAC where it has a key."""
        if self.key is None:
            _NTP.pack_into(self.octets, stamp.TIMESTAMP_AT, sent)
        else:
            _NTP.pack_into(self.octets, stamp_authenticated.TIMESTAMP_AT, sent)
            sealed = digest(self.key, self.octets[:COVERED_LENGTH])
            self.octets[COVERED_LENGTH:AUTHENTICATED_LENGTH] = sealed
        return self.octets


def reply_to(arrival: Arrival, book: SessionBook, now_s: float) -> Reply | None:
    """Return the answer to a packet, exactly as long as it; None where no answer is due."""
    session = book.find(arrival.address, ssid_of(arrival.data))
    if session is None:
        return None
    packet = _read(arrival.data, session)
    if packet is None:
        book.refuse(session)
        return None
    sequence = book.arrive(session, packet.sequence, now_s)
    if sequence is None:
        return None
    return _reply(_reflected(packet, arrival, sequence), arrival.data, session.key)


def ssid_of(data: bytes) -> int:
    """Return the SSID where either mode has it, 0 where neither does.

    Where the unauthenticated mode has it, the other has zeros (RFC 8972 §3 Figures 1 and 3).
    """
    if len(data) < BASE_LENGTH:
        return 0
    plain = _u16(data, stamp.SSID_AT)
    if plain or len(data) < AUTHENTICATED_LENGTH:
        return plain
    return _u16(data, stamp_authenticated.SSID_AT)


def _read(data: bytes, session: Session) -> SenderPacket | None:
    """Return the packet; None where it is not in the session's mode or not under its key."""
    key = session.key
    if key is not None and any(data[_SENDER_ENDS:COVERED_LENGTH]):
        # Both directions use one key: this is an answer of our own that someone turned round.
        return None
    try:
        packet = decode_sender(data) if key is None else decode_authenticated_sender(data, key)
    except MalformedMessage:
        return None
    return packet if packet.ssid == session.grant.ssid else None


def _reply(packet: ReflectorPacket, request: bytes, key: bytes | None) -> Reply:
    if key is None:
        base = encode_reflector(packet)
    else:
        base = cover_reflector(packet) + bytes(AUTHENTICATED_LENGTH - COVERED_LENGTH)
    chain = request[len(base) :]
    return Reply(octets=bytearray(base + reflected_chain(chain, key) if chain else base), key=key)


def _reflected(packet: SenderPacket, arrival: Arrival, sequence: int) -> ReflectorPacket:
    """Return the fields of RFC 8762 §4.3.1 Figure 5, all but the time of sending."""
    return ReflectorPacket(
        sequence=sequence,
        timestamp=0,
        error=OWN_ERROR,
        ssid=packet.ssid,
        receive_timestamp=ntp_from_unix_ns(arrival.at_ns),
        sender_sequence=packet.sequence,
        sender_timestamp=packet.timestamp,
        sender_error=packet.error,
        sender_ttl=arrival.hop_limit,
    )


def _u16(data: bytes, at: int) -> int:
    return int.from_bytes(data[at : at + 2], "big")
