"""The routing socket of macOS: the question for one way, and its answer, as frozen values.

struct rt_msghdr of net/route.h (92 octets, the last 56 of them rt_metrics), struct sockaddr_in,
sockaddr_in6 and sockaddr_dl, each rounded up to four octets; numbers in the byte order of the
machine, addresses in network order. All from memory of the system's published headers; never seen
on a real system.
"""

from __future__ import annotations

import struct
from dataclasses import dataclass
from ipaddress import IPv6Address, ip_address

from agent.codec.reader import Reader

NAME = "routing message"
HEADER = struct.Struct("=HBBHxxiiiiiiI56x")
VERSION = 5
GET = 4

UP, GATEWAY, REJECT, BLACKHOLE = 0x1, 0x2, 0x8, 0x1000
"""RTF_UP, RTF_GATEWAY, RTF_REJECT, RTF_BLACKHOLE."""

SCOPED = 0x0100_0000
"""RTF_IFSCOPE: only ways over the interface of rtm_index."""

DESTINATION, NEXT, INTERFACE = 0x1, 0x2, 0x10
"""RTA_DST, RTA_GATEWAY, RTA_IFP; the addresses follow in the order of these bits."""

MOST_ADDRESSES = 8
INET, LINK, INET6 = 2, 18, 30
"""The system's own numbers: other systems have another one for IPv6."""

_IPV4 = struct.Struct("=BBH4s8x")
_IPV6 = struct.Struct("=BBHI16sI")
_LINK_BYTES = 20
_STEP = 4


@dataclass(frozen=True, slots=True, kw_only=True)
class RouteAnswer:
    """One answer: `error` is the system's number for why there is no way, 0 where there is one.

    `gateway` is None where the destination is on the link itself.
    """

    sequence: int
    process: int
    error: int
    index: int = 0
    gateway: str | None = None
    refused: bool = False


def encode_question(address: str, *, sequence: int, process: int, index: int = 0) -> bytes:
    """Return RTM_GET for an address without zone; over one interface where `index` is not 0."""
    asked = _destination(address) + bytes([_LINK_BYTES, LINK]).ljust(_LINK_BYTES, b"\0")
    head = HEADER.pack(
        HEADER.size + len(asked),
        VERSION,
        GET,
        index,
        UP | (SCOPED if index else 0),
        DESTINATION | INTERFACE,
        process,
        sequence,
        0,
        0,
        0,
    )
    return head + asked


def decode_answer(data: bytes) -> RouteAnswer | None:
    """Return what one message answers, None for a message of another kind.

    Raises MalformedMessage.
    """
    reader = Reader(data, NAME)
    length, version, kind, index, flags, follow, process, sequence, error, _, _ = HEADER.unpack(
        reader.bytes(HEADER.size)
    )
    if version != VERSION or kind != GET:
        return None
    if not HEADER.size <= length <= len(data):
        reader.fail("its length is not that of the message")
    addresses = _addresses(reader.limited(length - HEADER.size), follow)
    return RouteAnswer(
        sequence=sequence,
        process=process,
        error=error,
        index=index,
        gateway=_gateway(addresses.get(NEXT)) if flags & GATEWAY else None,
        refused=bool(flags & (REJECT | BLACKHOLE)),
    )


def _destination(address: str) -> bytes:
    found = ip_address(address)
    if isinstance(found, IPv6Address):
        return _IPV6.pack(_IPV6.size, INET6, 0, 0, found.packed, 0)
    return _IPV4.pack(_IPV4.size, INET, 0, found.packed)


def _addresses(reader: Reader, follow: int) -> dict[int, bytes]:
    """Return the octets of each address by its bit; one of length 0 takes a whole step."""
    found: dict[int, bytes] = {}
    for bit in (1 << place for place in range(MOST_ADDRESSES)):
        if not follow & bit or not reader.remaining:
            continue
        length = reader.u8()
        padded = max(_STEP, -(-length // _STEP) * _STEP)
        rest = reader.bytes(min(padded - 1, max(length - 1, reader.remaining)))
        found[bit] = bytes([length]) + rest
    return found


def _gateway(octets: bytes | None) -> str | None:
    """Return a gateway by address, None for a link or a form unknown."""
    if octets is None or len(octets) < 2:
        return None
    if octets[1] == INET and len(octets) >= _IPV4.size:
        return str(ip_address(_IPV4.unpack_from(octets)[3]))
    if octets[1] == INET6 and len(octets) >= _IPV6.size:
        return _without_scope(_IPV6.unpack_from(octets)[4])
    return None


def _without_scope(packed: bytes) -> str:
    """Return an IPv6 address; the kernel keeps the interface within link-local ones (KAME)."""
    plain = packed[:2] + b"\0\0" + packed[4:]
    return str(IPv6Address(plain if IPv6Address(plain).is_link_local else packed))
