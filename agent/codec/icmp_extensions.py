"""What a router adds to an ICMP error: label stacks and interfaces.

RFC 4884 for the structure, RFC 4950 for label stacks, RFC 5837 for interfaces.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from ipaddress import ip_address

from agent.codec.checksum import is_intact
from agent.codec.reader import Reader
from agent.errors import MalformedMessage

_VERSION = 2
_HEADER_BYTES = 4
_LABEL_STACK = (1, 1)
_INTERFACE_CLASS = 2
_MOST_OBJECTS = 16
_MOST_LABELS = 16
_LONGEST_NAME = 63

_HAS_INDEX, _HAS_ADDRESS, _HAS_NAME, _HAS_MTU = 0x08, 0x04, 0x02, 0x01
_ADDRESS_BYTES = {1: 4, 2: 16}
"""By address family number (RFC 5837 §4.2): IPv4 and IPv6."""

_QUOTED_BEFORE = 128
"""Where senders older than RFC 4884 put extensions, in octets of the datagram (§5.5)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Label:
    """One entry of an MPLS label stack (RFC 4950 §5): 20, 3, 1 and 8 bits."""

    label: int
    traffic_class: int
    bottom: bool
    ttl: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Interface:
    """One interface a router names (RFC 5837 §4.1).

    `role` is 0 where the datagram came in, 1 a part of that, 2 where it would have left, 3 the
    next hop.
    """

    role: int
    index: int | None = None
    address: str | None = None
    name: str | None = None
    mtu_bytes: int | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Extensions:
    """All that was understood of an extension structure; objects of other classes are passed."""

    labels: tuple[Label, ...] = ()
    interfaces: tuple[Interface, ...] = ()


def decode_extensions(data: bytes) -> Extensions:
    """Return what an extension structure (RFC 4884 §7) holds, nothing where it is broken."""
    labels: list[Label] = []
    interfaces: list[Interface] = []
    for class_number, kind, value in _objects(data):
        if (class_number, kind) == _LABEL_STACK:
            labels += _labels(value)
        elif class_number == _INTERFACE_CLASS:
            interfaces += _interface(kind, value)
    return Extensions(labels=tuple(labels[:_MOST_LABELS]), interfaces=tuple(interfaces))


def decode_labels(data: bytes) -> tuple[Label, ...]:
    """Return the label stack in an extension structure, empty where there is none."""
    return decode_extensions(data).labels


def unannounced(quoted: bytes, header_bytes: int) -> bytes:
    """Return the extension structure that an old sender put behind a quote without saying so.

    `quoted` is the quoted datagram without its first `header_bytes` octets. Nothing is returned
    unless a structure with a right checksum begins at octet 128 of the datagram (RFC 4884 §5.5).
    """
    data = quoted[_QUOTED_BEFORE - header_bytes :]
    named = data[:1] == bytes([_VERSION << 4]) and data[2:4] != b"\0\0"
    return data if named and is_intact(data) else b""


def _objects(data: bytes) -> Iterator[tuple[int, int, Reader]]:
    checked = data[2:4] == b"\0\0" or is_intact(data)
    if len(data) < _HEADER_BYTES or data[0] >> 4 != _VERSION or not checked:
        return
    reader = Reader(data[_HEADER_BYTES:], "ICMP extension")
    for _ in range(_MOST_OBJECTS):
        if reader.remaining < _HEADER_BYTES:
            return
        length, class_number, kind = reader.u16(), reader.u8(), reader.u8()
        if not _HEADER_BYTES <= length <= reader.remaining + _HEADER_BYTES:
            return
        yield class_number, kind, reader.limited(length - _HEADER_BYTES)


def _labels(value: Reader) -> Iterator[Label]:
    while value.remaining >= _HEADER_BYTES:
        word = value.u32()
        yield Label(
            label=word >> 12,
            traffic_class=word >> 9 & 7,
            bottom=bool(word >> 8 & 1),
            ttl=word & 0xFF,
        )


def _interface(kind: int, value: Reader) -> Iterator[Interface]:
    """Yield the interface of one object; the fields come in this order (RFC 5837 §4.1)."""
    try:
        index = value.u32() if kind & _HAS_INDEX else None
        address = _address(value) if kind & _HAS_ADDRESS else None
        name = _name(value) if kind & _HAS_NAME else None
        mtu_bytes = value.u32() if kind & _HAS_MTU else None
    except MalformedMessage:
        return
    yield Interface(role=kind >> 6, index=index, address=address, name=name, mtu_bytes=mtu_bytes)


def _address(value: Reader) -> str:
    family = value.u16()
    value.bytes(2)
    if family not in _ADDRESS_BYTES:
        value.fail(f"the address family {family} is unknown")
    return str(ip_address(value.bytes(_ADDRESS_BYTES[family])))


def _name(value: Reader) -> str:
    """Return the name: a length octet that counts itself, then UTF-8 filled up with zero."""
    length = value.u8()
    if length == 0 or length > _LONGEST_NAME + 1:
        value.fail(f"the name has {length} octets")
    text = value.bytes(length - 1).rstrip(b"\0")
    return text.decode(errors="replace")
