"""PPPoE discovery packets: bytes to frozen values and back (RFC 2516 §4, §5, Appendix A)."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from enum import IntEnum

from agent.codec.reader import Reader
from agent.errors import MalformedMessage

ETHERTYPE = 0x8863
"""Discovery stage (RFC 2516 §4); the session stage has 0x8864."""

VERSION_AND_TYPE = 0x11
NAME = "PPPoE discovery packet"
MOST_TAGS = 64


class Code(IntEnum):
    """What a discovery packet is (RFC 2516 §5); 0x00 is a session's."""

    PADI = 0x09
    PADO = 0x07
    PADR = 0x19
    PADS = 0x65
    PADT = 0xA7


class Tag(IntEnum):
    """Tag types (RFC 2516 Appendix A)."""

    END_OF_LIST = 0x0000
    SERVICE_NAME = 0x0101
    AC_NAME = 0x0102
    HOST_UNIQ = 0x0103
    AC_COOKIE = 0x0104
    VENDOR_SPECIFIC = 0x0105
    RELAY_SESSION_ID = 0x0110
    SERVICE_NAME_ERROR = 0x0201
    AC_SYSTEM_ERROR = 0x0202
    GENERIC_ERROR = 0x0203


ERRORS = (Tag.SERVICE_NAME_ERROR, Tag.AC_SYSTEM_ERROR, Tag.GENERIC_ERROR)


@dataclass(frozen=True, slots=True, kw_only=True)
class Discovery:
    """One discovery packet without its Ethernet header; tags in order, values raw."""

    code: int
    session_id: int = 0
    tags: tuple[tuple[int, bytes], ...] = ()

    def tag(self, kind: int) -> bytes | None:
        """Return the value of the first tag of a type, None where it is absent."""
        return next(iter(self.all(kind)), None)

    def all(self, kind: int) -> tuple[bytes, ...]:
        """Return the values of every tag of a type."""
        return tuple(value for found, value in self.tags if found == kind)


def decode(data: bytes) -> Discovery:
    """Return the packet behind an Ethernet header; padding behind LENGTH is left.

    Raises MalformedMessage.
    """
    reader = Reader(data, message=NAME)
    version_and_type = reader.u8()
    if version_and_type != VERSION_AND_TYPE:
        raise MalformedMessage(message=NAME, offset=0, problem=f"version {version_and_type:#04x}")
    code, session_id, length = reader.u8(), reader.u16(), reader.u16()
    return Discovery(code=code, session_id=session_id, tags=_tags(reader.limited(length)))


def _tags(reader: Reader) -> tuple[tuple[int, bytes], ...]:
    tags: list[tuple[int, bytes]] = []
    while reader.remaining:
        kind, value = reader.u16(), reader.bytes(reader.u16())
        if kind == Tag.END_OF_LIST:
            break
        if len(tags) == MOST_TAGS:
            reader.fail(f"more than {MOST_TAGS} tags")
        tags.append((kind, value))
    return tuple(tags)


def encode(packet: Discovery) -> bytes:
    """Return the bytes behind an Ethernet header."""
    body = b"".join(_tag(kind, value) for kind, value in packet.tags)
    head = bytes([VERSION_AND_TYPE, packet.code])
    return head + packet.session_id.to_bytes(2) + len(body).to_bytes(2) + body


def _tag(kind: int, value: bytes) -> bytes:
    return kind.to_bytes(2) + len(value).to_bytes(2) + value


def initiation(host_uniq: bytes) -> Discovery:
    """Return a PADI that takes any service: one Service-Name tag of no length (RFC 2516 §5.1)."""
    return Discovery(
        code=Code.PADI, tags=((Tag.SERVICE_NAME, b""), (Tag.HOST_UNIQ, bytes(host_uniq)))
    )


def offer(
    asked: Discovery, *, name: str, services: Iterable[str] = ("",), cookie: bytes = b""
) -> Discovery:
    """Return the PADO of an access concentrator; it repeats Host-Uniq (RFC 2516 §5.2)."""
    echoed = tuple((kind, value) for kind, value in asked.tags if kind in _REPEATED)
    return Discovery(
        code=Code.PADO,
        tags=(
            (Tag.AC_NAME, name.encode()),
            *((Tag.SERVICE_NAME, service.encode()) for service in services),
            *(((Tag.AC_COOKIE, cookie),) if cookie else ()),
            *echoed,
        ),
    )


_REPEATED = (Tag.HOST_UNIQ, Tag.RELAY_SESSION_ID)
