"""DHCPv4 options as bytes and as values (RFC 2131 §4.1, RFC 2132, RFC 3396, RFC 3442).

A message keeps its options as raw bytes; the functions here read one value and return None, or an
empty tuple, where its length breaks the standard, so that one bad option never hides the others.
`faulty_options` names those.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from enum import IntEnum
from ipaddress import IPv4Address

from agent.codec.reader import Reader
from agent.errors import MalformedMessage

PAD = 0
END = 255
LONGEST_PART = 255
LONGEST_TEXT = 512
IPV6_ONLY_LEAST_S = 300
"""MIN_V6ONLY_WAIT: a smaller wait is raised to it (RFC 8925 §3.4)."""

INFINITE_LEASE_S = 0xFFFFFFFF
"""A lease that never ends (RFC 2131 §3.3); it has neither T1 nor T2."""

Options = tuple[tuple[int, bytes], ...]


class Option(IntEnum):
    """Codes of the options that are read or sent (RFC 2132; 108 RFC 8925, 114 RFC 8910)."""

    SUBNET_MASK = 1
    ROUTERS = 3
    DNS = 6
    HOST_NAME = 12
    DOMAIN_NAME = 15
    INTERFACE_MTU = 26
    STATIC_ROUTES = 33
    REQUESTED_ADDRESS = 50
    LEASE_S = 51
    OVERLOAD = 52
    MESSAGE_TYPE = 53
    SERVER_ID = 54
    PARAMETER_LIST = 55
    MESSAGE_TEXT = 56
    MAXIMUM_SIZE = 57
    T1_S = 58
    T2_S = 59
    VENDOR_CLASS = 60
    CLIENT_ID = 61
    USER_CLASS = 77
    IPV6_ONLY_S = 108
    CAPTIVE_PORTAL = 114
    CLASSLESS_ROUTES = 121
    VENDOR_IDENTIFYING = 125


@dataclass(frozen=True, slots=True, kw_only=True)
class Route:
    """One classless static route: `router` 0.0.0.0 says on-link (RFC 3442, local subnets)."""

    network: str
    prefix: int
    router: str


def scan(reader: Reader) -> list[tuple[int, bytes]]:
    """Return the options of one field in their order, up to END or the end of the field.

    Raises MalformedMessage for an option longer than its field.
    """
    found: list[tuple[int, bytes]] = []
    while reader.remaining:
        code = reader.u8()
        if code == END:
            break
        if code != PAD:
            found.append((code, reader.bytes(reader.u8())))
    return found


def concatenate(parts: Iterable[tuple[int, bytes]]) -> Options:
    """Return options with the values of repeated codes joined in order (RFC 3396 §7)."""
    whole: dict[int, bytes] = {}
    for code, value in parts:
        whole[code] = whole.get(code, b"") + value
    return tuple(whole.items())


def encode_options(options: Options) -> bytes:
    """Return an option field with END; values past 255 bytes are split (RFC 3396 §5)."""
    return b"".join(_encode_one(code, value) for code, value in options) + bytes([END])


def _encode_one(code: int, value: bytes) -> bytes:
    starts = range(0, max(len(value), 1), LONGEST_PART)
    parts = (value[start : start + LONGEST_PART] for start in starts)
    return b"".join(bytes([code, len(part)]) + part for part in parts)


def number(value: bytes | None, size: int) -> int | None:
    """Return an unsigned number of exactly `size` bytes, None for any other length."""
    return int.from_bytes(value) if value is not None and len(value) == size else None


def address(value: bytes | None) -> str | None:
    """Return one IPv4 address as text, None where the value is not four bytes."""
    return str(IPv4Address(value)) if value is not None and len(value) == 4 else None


def addresses(value: bytes | None) -> tuple[str, ...]:
    """Return a list of IPv4 addresses, empty where the length is not a multiple of four."""
    if value is None or len(value) % 4:
        return ()
    return tuple(str(IPv4Address(value[at : at + 4])) for at in range(0, len(value), 4))


def text(value: bytes | None) -> str | None:
    """Return the printable ASCII text of an option, None where it holds anything else.

    A NUL at the end, which RFC 2132 §2 tells clients to bear with, is cut off.
    """
    plain = value.rstrip(b"\0") if value is not None else b""
    if not 0 < len(plain) <= LONGEST_TEXT or any(not 0x20 <= one < 0x7F for one in plain):
        return None
    return plain.decode("ascii")


def uri(value: bytes | None) -> str | None:
    """Return the URI of option 114, None where no scheme stands before it (RFC 8910 §2)."""
    found = text(value)
    scheme, colon, rest = (found or "").partition(":")
    named = scheme[:1].isalpha() and all(one.isalnum() or one in "+-." for one in scheme)
    return found if colon and rest and named and " " not in rest else None


def ipv6_only_wait(value: bytes | None) -> int | None:
    """Return the wait of option 108 in seconds as a client takes it (RFC 8925 §3.4)."""
    wait_s = number(value, 4)
    return None if wait_s is None else max(wait_s, IPV6_ONLY_LEAST_S)


def pack_addresses(*texts: str) -> bytes:
    """Return IPv4 addresses as bytes, one after the other."""
    return b"".join(IPv4Address(text).packed for text in texts)


def pack_seconds(seconds: int) -> bytes:
    """Return a time in seconds as the four bytes of options 51, 58 and 59."""
    return seconds.to_bytes(4)


def decode_routes(value: bytes) -> tuple[Route, ...]:
    """Return the routes of option 121; host bits are cleared as a client must (RFC 3442).

    Raises MalformedMessage for a width past 32 or a value that ends early.
    """
    reader = Reader(value, message="classless route option")
    routes = []
    while reader.remaining:
        routes.append(_decode_route(reader))
    return tuple(routes)


def _decode_route(reader: Reader) -> Route:
    offset, prefix = reader.offset, reader.u8()
    if prefix > 32:
        raise MalformedMessage(
            message="classless route option", offset=offset, problem=f"width {prefix}"
        )
    significant = reader.bytes((prefix + 7) // 8)
    bits = int.from_bytes(significant.ljust(4, b"\0"))
    network = bits & ~((1 << (32 - prefix)) - 1)
    router = IPv4Address(reader.bytes(4))
    return Route(network=str(IPv4Address(network)), prefix=prefix, router=str(router))


def encode_routes(routes: Iterable[Route]) -> bytes:
    """Return the value of option 121: width, significant bytes, router (RFC 3442)."""
    return b"".join(
        bytes([route.prefix])
        + IPv4Address(route.network).packed[: (route.prefix + 7) // 8]
        + IPv4Address(route.router).packed
        for route in routes
    )


def _routes_readable(value: bytes) -> bool:
    try:
        return len(decode_routes(value)) > 0
    except MalformedMessage:
        return False


def _exactly(size: int) -> Callable[[bytes], bool]:
    return lambda value: len(value) == size


def _address_list(value: bytes) -> bool:
    return len(value) > 0 and len(value) % 4 == 0


FORMS: dict[int, Callable[[bytes], bool]] = {
    Option.SUBNET_MASK: _exactly(4),
    Option.ROUTERS: _address_list,
    Option.DNS: _address_list,
    Option.INTERFACE_MTU: _exactly(2),
    Option.REQUESTED_ADDRESS: _exactly(4),
    Option.LEASE_S: _exactly(4),
    Option.OVERLOAD: _exactly(1),
    Option.MESSAGE_TYPE: _exactly(1),
    Option.SERVER_ID: _exactly(4),
    Option.MAXIMUM_SIZE: _exactly(2),
    Option.T1_S: _exactly(4),
    Option.T2_S: _exactly(4),
    Option.IPV6_ONLY_S: _exactly(4),
    Option.CAPTIVE_PORTAL: lambda value: uri(value) is not None,
    Option.CLASSLESS_ROUTES: _routes_readable,
}
"""The form each option must have: lengths of RFC 2132 and RFC 8925 §3.1, codings of RFC 3442 and
RFC 8910."""


def faulty_options(options: Options) -> tuple[int, ...]:
    """Return the codes whose values break the form that their standard prescribes."""
    return tuple(code for code, value in options if code in FORMS and not FORMS[code](value))
