"""The two messages of a delay series: STAMP test packets, and marked ICMP echo data."""

from __future__ import annotations

import secrets
from typing import Protocol

from agent.codec.mark import Mark, encode_mark, find_mark
from agent.codec.reader import Reader
from agent.codec.stamp import (
    ReflectorPacket,
    SenderPacket,
    decode_reflector,
    encode_sender,
    ntp_from_unix_ns,
    unix_ns_from_ntp,
)
from agent.codec.stamp_authenticated import (
    AUTHENTICATED_LENGTH,
    decode_authenticated_reflector,
    encode_authenticated_sender,
)
from agent.errors import MalformedMessage
from agent.schedules.far import Reflection
from agent.units import NS_PER_S


class EchoMessages(Protocol):
    """Writes the probe of a sequence number and finds the number in what comes back.

    `length` is the octets of each probe.
    """

    length: int

    def encode(self, number: int, at_s: float) -> bytes:
        """Return the payload of one probe sent at a time of the timeline."""
        ...

    def decode(self, payload: bytes) -> tuple[int, Reflection | None] | None:
        """Return the number an answer belongs to; None where it is no answer to this series."""
        ...

    def quoted(self, quoted: bytes) -> int | None:
        """Return the number of the probe an ICMP error quotes; None where too little is there."""
        ...


class StampMessages:
    """STAMP, in authenticated mode where there is a key; an answer must hold the stamp sent.

    That mode needs at least 112 octets, whatever length is asked for.
    """

    def __init__(self, *, ssid: int, length: int, epoch_ns: int, key: bytes | None = None) -> None:
        self.length = length if key is None else max(length, AUTHENTICATED_LENGTH)
        self._ssid = ssid
        self._epoch_ns = epoch_ns
        self._key = key
        self._stamps: dict[int, int] = {}

    def encode(self, number: int, at_s: float) -> bytes:
        """Return the sender packet of one sequence number."""
        stamp = ntp_from_unix_ns(self._epoch_ns + round(at_s * NS_PER_S))
        self._stamps[number] = stamp
        packet = SenderPacket(sequence=number, timestamp=stamp, ssid=self._ssid)
        if self._key is None:
            return encode_sender(packet, self.length)
        return encode_authenticated_sender(packet, self._key, self.length)

    def decode(self, payload: bytes) -> tuple[int, Reflection | None] | None:
        """Return the number and the far end's stamps of a reflector packet."""
        try:
            packet = self._packet(payload)
        except MalformedMessage:
            return None
        if self._stamps.get(packet.sender_sequence) != packet.sender_timestamp:
            return None
        return packet.sender_sequence, _reflection(packet)

    def quoted(self, quoted: bytes) -> int | None:
        """Return the sequence number, the first four octets of every sender packet."""
        try:
            number = Reader(quoted, "quoted probe").u32()
        except MalformedMessage:
            return None
        return number if number in self._stamps else None

    def _packet(self, payload: bytes) -> ReflectorPacket:
        if self._key is None:
            return decode_reflector(payload)
        return decode_authenticated_reflector(payload, self._key)


class MarkedMessages:
    """Marked payloads for echo that returns its data unchanged (RFC 792).

    Behind the mark stand random octets, other ones in each probe: what was not sent, or not sent
    in this probe, is no answer, whoever forges it.
    """

    def __init__(self, *, nonce: int, length: int) -> None:
        self._nonce = nonce
        self.length = length
        self._sent: list[bytes] = []

    def encode(self, number: int, at_s: float) -> bytes:  # noqa: ARG002 - the mark holds no time
        """Return the marked payload of the next sequence number."""
        mark = encode_mark(Mark(nonce=self._nonce, number=number))
        self._sent.append(mark + secrets.token_bytes(self.length - len(mark)))
        return self._sent[-1]

    def decode(self, payload: bytes) -> tuple[int, Reflection | None] | None:
        """Return the number of a payload that came back whole."""
        number = self.quoted(payload)
        return None if number is None or payload != self._sent[number] else (number, None)

    def quoted(self, quoted: bytes) -> int | None:
        """Return the number of the probe of this series that begins with what is quoted."""
        mark = find_mark(quoted)
        if mark is None or mark.nonce != self._nonce or mark.number >= len(self._sent):
            return None
        return mark.number if self._sent[mark.number].startswith(quoted) else None


def _reflection(packet: ReflectorPacket) -> Reflection:
    if packet.error.ptp:
        # The stamps are then in another format (RFC 8762 §4.2.1, Z bit) and tell us nothing.
        return Reflection(count=packet.sequence)
    return Reflection(
        count=packet.sequence,
        received_ns=unix_ns_from_ntp(packet.receive_timestamp),
        sent_ns=unix_ns_from_ntp(packet.timestamp),
    )
