"""IPv6 packets as the frames of a port carry them (RFC 8200 §3), and the UDP inside (RFC 768)."""

from __future__ import annotations

from dataclasses import dataclass
from ipaddress import IPv6Address

from agent.codec.checksum import checksum, is_intact
from agent.codec.reader import Reader
from agent.errors import MalformedMessage

ETHERTYPE = 0x86DD
"""RFC 2464 §3."""

NAME = "IPv6 packet"
VERSION = 6
UDP, ICMPV6 = 17, 58
HEADER = 40
UDP_HEADER = 8


@dataclass(frozen=True, slots=True, kw_only=True)
class Packet:
    """One packet without extension headers: addresses as text, what it carries as bytes."""

    source: str
    destination: str
    next_header: int
    hop_limit: int
    payload: bytes

    @property
    def intact(self) -> bool:
        """Tell whether the checksum of its UDP or ICMPv6 is right (RFC 8200 §8.1)."""
        return is_intact(_pseudo_header(self, len(self.payload)) + self.payload)


@dataclass(frozen=True, slots=True, kw_only=True)
class Datagram:
    """One UDP datagram."""

    source_port: int
    destination_port: int
    data: bytes


def decode(data: bytes) -> Packet:
    """Return the packet behind an Ethernet header; padding is left. Raises MalformedMessage."""
    reader = Reader(data, message=NAME)
    if reader.u32() >> 28 != VERSION:
        raise MalformedMessage(message=NAME, offset=0, problem="another version")
    length, next_header, hop_limit = reader.u16(), reader.u8(), reader.u8()
    source, destination = IPv6Address(reader.bytes(16)), IPv6Address(reader.bytes(16))
    return Packet(
        source=str(source),
        destination=str(destination),
        next_header=next_header,
        hop_limit=hop_limit,
        payload=reader.bytes(length),
    )


def encode(packet: Packet) -> bytes:
    """Return the bytes behind an Ethernet header; traffic class and flow label are zero."""
    return b"".join(
        (
            (VERSION << 28).to_bytes(4),
            len(packet.payload).to_bytes(2),
            bytes((packet.next_header, packet.hop_limit)),
            IPv6Address(packet.source).packed,
            IPv6Address(packet.destination).packed,
            packet.payload,
        )
    )


def decode_datagram(data: bytes) -> Datagram:
    """Return the datagram in a packet. Raises MalformedMessage.

    Its checksum is left alone: a port that finishes it later shows it unfinished.
    """
    reader = Reader(data, message="UDP datagram")
    source, destination, length = reader.u16(), reader.u16(), reader.u16()
    reader.u16()
    return Datagram(
        source_port=source, destination_port=destination, data=reader.bytes(length - UDP_HEADER)
    )


def datagram_packet(source: str, destination: str, datagram: Datagram) -> Packet:
    """Return a packet with a datagram, hop limit 1: it is meant for this link alone."""
    length = UDP_HEADER + len(datagram.data)
    ports = datagram.source_port.to_bytes(2) + datagram.destination_port.to_bytes(2)
    head = ports + length.to_bytes(2)
    packet = Packet(
        source=source,
        destination=destination,
        next_header=UDP,
        hop_limit=1,
        payload=head + b"\0\0" + datagram.data,
    )
    return with_checksum(packet, 6)


def with_checksum(packet: Packet, at: int) -> Packet:
    """Return the packet with its checksum, which is zero yet, put at an offset of its payload.

    A sum of zero is sent as all ones (RFC 8200 §8.1).
    """
    data = packet.payload
    found = checksum(_pseudo_header(packet, len(data)) + data) or 0xFFFF
    return Packet(
        source=packet.source,
        destination=packet.destination,
        next_header=packet.next_header,
        hop_limit=packet.hop_limit,
        payload=data[:at] + found.to_bytes(2) + data[at + 2 :],
    )


def group_frame_address(group: str) -> bytes:
    """Return the Ethernet address of a multicast group (RFC 2464 §7)."""
    return b"\x33\x33" + IPv6Address(group).packed[-4:]


def _pseudo_header(packet: Packet, length: int) -> bytes:
    return b"".join(
        (
            IPv6Address(packet.source).packed,
            IPv6Address(packet.destination).packed,
            length.to_bytes(4),
            packet.next_header.to_bytes(4),
        )
    )
