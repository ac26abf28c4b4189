"""ARP over Ethernet for IPv4 (RFC 826), and the probe of RFC 5227."""

from __future__ import annotations

from dataclasses import dataclass
from enum import IntEnum
from ipaddress import IPv4Address

from agent.codec.reader import Reader
from agent.errors import MalformedMessage

ETHERTYPE = 0x0806
HEAD = bytes.fromhex("000108000604")
"""Hardware type Ethernet, protocol IPv4, lengths six and four (RFC 826)."""

NAME = "ARP packet"
NOBODY = bytes(6)
NO_ADDRESS = "0.0.0.0"  # noqa: S104 - the all-zero sender of a probe, nothing is bound


class Op(IntEnum):
    """What a packet does (RFC 826)."""

    REQUEST = 1
    REPLY = 2


@dataclass(frozen=True, slots=True, kw_only=True)
class ArpPacket:
    """One packet: hardware addresses as six bytes, IPv4 addresses as text."""

    op: int
    sender_hardware: bytes
    sender: str
    target_hardware: bytes = NOBODY
    target: str

    @property
    def probe(self) -> bool:
        """Tell whether it only asks who has an address, its own being zero (RFC 5227 §1.1)."""
        return self.op == Op.REQUEST and self.sender == NO_ADDRESS


def decode(data: bytes) -> ArpPacket:
    """Return the packet behind an Ethernet header; padding is left. Raises MalformedMessage."""
    reader = Reader(data, message=NAME)
    if reader.bytes(len(HEAD)) != HEAD:
        raise MalformedMessage(message=NAME, offset=0, problem="not IPv4 over Ethernet")
    return ArpPacket(
        op=reader.u16(),
        sender_hardware=reader.bytes(6),
        sender=str(IPv4Address(reader.bytes(4))),
        target_hardware=reader.bytes(6),
        target=str(IPv4Address(reader.bytes(4))),
    )


def encode(packet: ArpPacket) -> bytes:
    """Return the bytes behind an Ethernet header."""
    return b"".join(
        (
            HEAD,
            packet.op.to_bytes(2),
            packet.sender_hardware,
            IPv4Address(packet.sender).packed,
            packet.target_hardware,
            IPv4Address(packet.target).packed,
        )
    )


def probe(hardware_address: bytes, address: str) -> ArpPacket:
    """Return the question whether anyone uses an address; it spoils no cache (RFC 5227 §2.1.1)."""
    return ArpPacket(
        op=Op.REQUEST, sender_hardware=hardware_address, sender=NO_ADDRESS, target=address
    )


def uses(packet: ArpPacket, address: str) -> bool:
    """Tell whether a packet's sender says that it has the address: a conflict (RFC 5227 §2.1.1)."""
    return packet.sender == address
