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
from agent.errors import MalformedMessage
from agent.schedules.far import Reflection
from agent.units import NS_PER_S


class EchoMessages(Protocol):
    """Writes the probe of a sequence number and finds the number in what comes back."""

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
    """STAMP in unauthenticated mode; an answer must hold the very stamp that was sent."""

    def __init__(self, *, ssid: int, length: int, epoch_ns: int) -> None:
        self._ssid = ssid
        self._length = length
        self._epoch_ns = epoch_ns
        self._stamps: dict[int, int] = {}

    def encode(self, number: int, at_s: float) -> bytes:
        """Return the sender packet of one sequence number."""
        stamp = ntp_from_unix_ns(self._epoch_ns + round(at_s * NS_PER_S))
        self._stamps[number] = stamp
        packet = SenderPacket(sequence=number, timestamp=stamp, ssid=self._ssid)
        return encode_sender(packet, self._length)

    def decode(self, payload: bytes) -> tuple[int, Reflection | None] | None:
        """Return the number and the far end's stamps of a reflector packet."""
        try:
            packet = decode_reflector(payload)
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


class MarkedMessages:
    """Marked payloads for echo that returns its data unchanged (RFC 792).

    Behind the mark stand random octets, other ones in each probe: what was not sent, or not sent
    in this probe, is no answer, whoever forges it.
    """

    def __init__(self, *, nonce: int, length: int) -> None:
        self._nonce = nonce
        self._length = length
        self._sent: list[bytes] = []

    def encode(self, number: int, at_s: float) -> bytes:  # noqa: ARG002 - the mark holds no time
        """Return the marked payload of the next sequence number."""
        mark = encode_mark(Mark(nonce=self._nonce, number=number))
        self._sent.append(mark + secrets.token_bytes(self._length - len(mark)))
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
