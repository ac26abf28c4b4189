"""ICMP echo and error messages of both families, with multi-part extensions.

RFC 792 and RFC 4443 for the messages, RFC 4884 for where extensions begin.
"""

from __future__ import annotations

import struct
from dataclasses import dataclass

from agent.codec.checksum import checksum
from agent.codec.icmp_extensions import Interface, Label, decode_extensions
from agent.codec.reader import Reader

ECHO_REQUEST = {4: 8, 6: 128}
"""ICMP type by family (RFC 792; RFC 4443 §4.1)."""

ECHO_REPLY = {4: 0, 6: 129}
"""ICMP type by family (RFC 792; RFC 4443 §4.2)."""

_ECHO = struct.Struct("!BBHHH")
_EXTENDED = {4: (3, 11, 12), 6: (1, 3)}
_LENGTH_UNIT = {4: 4, 6: 8}
_LEAST_QUOTE = 128


@dataclass(frozen=True, slots=True, kw_only=True)
class Echo:
    """An echo request or reply: `identifier` and `sequence` 16 bits each."""

    icmp_type: int
    identifier: int
    sequence: int
    data: bytes


@dataclass(frozen=True, slots=True, kw_only=True)
class IcmpError:
    """An ICMP error: `quoted` is the datagram it is about, from its IP header, maybe cut short.

    `mtu_bytes` stands in "fragmentation needed" and "packet too big" messages, None elsewhere
    or where the router left it zero (RFC 1191 §4, RFC 4443 §3.2).
    """

    icmp_type: int
    icmp_code: int
    quoted: bytes
    mtu_bytes: int | None = None
    labels: tuple[Label, ...] = ()
    interfaces: tuple[Interface, ...] = ()


def encode_echo(echo: Echo) -> bytes:
    """Return the message with the checksum of RFC 792; the kernel redoes it for ICMPv6."""
    head = _ECHO.pack(echo.icmp_type, 0, 0, echo.identifier, echo.sequence)
    value = checksum(head + echo.data)
    return _ECHO.pack(echo.icmp_type, 0, value, echo.identifier, echo.sequence) + echo.data


def decode_echo(data: bytes) -> Echo:
    """Return the echo message in `data`; its checksum is the kernel's business.

    Raises MalformedMessage for fewer than eight octets or a code other than zero.
    """
    reader = Reader(data, "ICMP echo message")
    icmp_type, code, _, identifier, sequence = _ECHO.unpack(reader.bytes(_ECHO.size))
    if code:
        reader.fail(f"the code is {code}, not 0")
    return Echo(icmp_type=icmp_type, identifier=identifier, sequence=sequence, data=reader.rest())


def without_ip_header(data: bytes) -> bytes:
    """Return what an IPv4 packet carries (RFC 791 §3.1); raises MalformedMessage."""
    reader = Reader(data, "IPv4 packet")
    first = reader.u8()
    length = (first & 0x0F) * 4
    if first >> 4 != 4 or length < 20:
        reader.fail("there is no IPv4 header")
    reader.bytes(length - 1)
    return reader.rest()


def decode_error(data: bytes, family: int) -> IcmpError:
    """Return the ICMP error in `data`, read from its type octet; raises MalformedMessage.

    Extensions are read where the length attribute says so (RFC 4884 §5.4, strict); broken ones
    are left out, for what precedes them still names the router and the probe.
    """
    reader = Reader(data, "ICMP error")
    icmp_type, code = reader.u8(), reader.u8()
    reader.bytes(2)
    word = reader.bytes(4)
    length = word[1 if family == 4 else 0] * _LENGTH_UNIT[family]
    body = reader.rest()
    extended = icmp_type in _EXTENDED[family] and _LEAST_QUOTE <= length < len(body)
    extensions = decode_extensions(body[length:] if extended else b"")
    return IcmpError(
        icmp_type=icmp_type,
        icmp_code=code,
        quoted=body[:length] if extended else body,
        mtu_bytes=_mtu(icmp_type, code, word, family),
        labels=extensions.labels,
        interfaces=extensions.interfaces,
    )


def _mtu(icmp_type: int, code: int, word: bytes, family: int) -> int | None:
    if family == 4:
        named = int.from_bytes(word[2:], "big") if (icmp_type, code) == (3, 4) else 0
    else:
        named = int.from_bytes(word, "big") if icmp_type == 2 else 0
    return named or None
