"""DHCPv4 messages: bytes to frozen values and back (RFC 2131 §2, RFC 2132, RFC 1542 §2.1)."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from enum import IntEnum
from ipaddress import IPv4Address

from agent.codec import dhcp_options as o
from agent.codec.dhcp_options import Option, Options, Route
from agent.codec.reader import Reader
from agent.errors import MalformedMessage

SERVER_PORT = 67
CLIENT_PORT = 68
COOKIE = bytes([99, 130, 83, 99])
BROADCAST_FLAG = 0x8000
ETHERNET = 1
HARDWARE_FIELD = 16
SMALLEST = 300
"""The least size of a BOOTP message; some relays drop smaller ones (RFC 1542 §2.1)."""

NAME = "DHCP message"
NO_ADDRESS = "0.0.0.0"  # noqa: S104 - the unspecified address of the format, nothing is bound
PARAMETERS = (
    Option.CLASSLESS_ROUTES,
    Option.SUBNET_MASK,
    Option.ROUTERS,
    Option.DNS,
    Option.DOMAIN_NAME,
    Option.LEASE_S,
    Option.SERVER_ID,
    Option.T1_S,
    Option.T2_S,
)
"""What is asked for; 121 stands before 3, as RFC 3442 prescribes for clients."""

PROBE_PARAMETERS = (
    *PARAMETERS,
    Option.STATIC_ROUTES,
    Option.INTERFACE_MTU,
    Option.CAPTIVE_PORTAL,
    Option.IPV6_ONLY_S,
)
"""What the lease probe asks for; 121 before 33 too (RFC 3442), 108 so that it is given (RFC 8925
§3.2), 114 likewise (RFC 8910 §2.1)."""

UNGRANTABLE = "240.0.0.1"
"""Of the reserved block 240/4 (RFC 1112 §4, RFC 6890), which no server can lease out."""


class Op(IntEnum):
    """Who speaks: a client requests, a server replies."""

    REQUEST = 1
    REPLY = 2


class MessageType(IntEnum):
    """Option 53 (RFC 2132 §9.6)."""

    DISCOVER = 1
    OFFER = 2
    REQUEST = 3
    DECLINE = 4
    ACK = 5
    NAK = 6
    RELEASE = 7
    INFORM = 8


@dataclass(frozen=True, slots=True, kw_only=True)
class DhcpMessage:
    """One message; addresses as text, options joined per code in order of first appearance.

    `hardware_address` is chaddr cut to hlen, `sname` and `file` are raw (zeros stripped) and empty
    where they carried options. Typed readings return None where an option is absent or malformed.
    """

    op: int
    xid: int
    hardware_address: bytes
    hardware_type: int = ETHERNET
    hops: int = 0
    secs: int = 0
    flags: int = 0
    ciaddr: str = NO_ADDRESS
    yiaddr: str = NO_ADDRESS
    siaddr: str = NO_ADDRESS
    giaddr: str = NO_ADDRESS
    sname: bytes = b""
    file: bytes = b""
    options: Options = ()

    def option(self, code: int) -> bytes | None:
        """Return the raw value of an option, None where it is absent."""
        return next((value for found, value in self.options if found == code), None)

    @property
    def message_type(self) -> int | None:
        """Option 53; values beyond MessageType are returned as they are."""
        return o.number(self.option(Option.MESSAGE_TYPE), 1)

    @property
    def server_id(self) -> str | None:
        """Option 54, the address that names the server."""
        return o.address(self.option(Option.SERVER_ID))

    @property
    def lease_s(self) -> int | None:
        """Option 51 in seconds; INFINITE_LEASE_S says forever."""
        return o.number(self.option(Option.LEASE_S), 4)

    @property
    def t1_s(self) -> int | None:
        """Option 58, when to renew, seconds after the lease began."""
        return o.number(self.option(Option.T1_S), 4)

    @property
    def t2_s(self) -> int | None:
        """Option 59, when to rebind, seconds after the lease began."""
        return o.number(self.option(Option.T2_S), 4)

    @property
    def subnet_mask(self) -> str | None:
        """Option 1 as dotted text."""
        return o.address(self.option(Option.SUBNET_MASK))

    @property
    def dns(self) -> tuple[str, ...]:
        """Option 6, the resolvers in order of preference."""
        return o.addresses(self.option(Option.DNS))

    @property
    def routers(self) -> tuple[str, ...]:
        """The gateways in force: from option 121 where it is present, else option 3 (RFC 3442)."""
        if self.option(Option.CLASSLESS_ROUTES) is None:
            return o.addresses(self.option(Option.ROUTERS))
        return tuple(route.router for route in self.routes if route.prefix == 0)

    @property
    def routes(self) -> tuple[Route, ...]:
        """Option 121, empty where it is absent or malformed."""
        try:
            return o.decode_routes(self.option(Option.CLASSLESS_ROUTES) or b"")
        except MalformedMessage:
            return ()

    @property
    def mtu_bytes(self) -> int | None:
        """Option 26, the largest IP packet that the link is said to carry."""
        return o.number(self.option(Option.INTERFACE_MTU), 2)

    @property
    def message_text(self) -> str | None:
        """Option 56, what a NAK says of itself, as printable text."""
        return o.text(self.option(Option.MESSAGE_TEXT))

    @property
    def captive_api(self) -> str | None:
        """Option 114, the URI of the captive portal's API (RFC 8910 §2.1)."""
        return o.uri(self.option(Option.CAPTIVE_PORTAL))

    @property
    def ipv6_only_s(self) -> int | None:
        """Option 108, for how long IPv4 may be left alone, at least 300 s (RFC 8925 §3.4)."""
        return o.ipv6_only_wait(self.option(Option.IPV6_ONLY_S))

    @property
    def broadcast(self) -> bool:
        """Whether the client asked for broadcast replies (RFC 2131 §2 Figure 2)."""
        return bool(self.flags & BROADCAST_FLAG)


def decode(data: bytes) -> DhcpMessage:
    """Return the message in the payload of a UDP datagram.

    Raises MalformedMessage for anything that is not a DHCPv4 message.
    """
    reader = Reader(data, message=NAME)
    op, hardware_type, hlen, hops = (reader.u8() for _ in range(4))
    if op not in (Op.REQUEST, Op.REPLY):
        raise MalformedMessage(message=NAME, offset=0, problem=f"operation {op}")
    if hlen > HARDWARE_FIELD:
        raise MalformedMessage(message=NAME, offset=2, problem=f"hardware length {hlen}")
    xid, secs, flags = reader.u32(), reader.u16(), reader.u16()
    ciaddr, yiaddr, siaddr, giaddr = (str(IPv4Address(reader.bytes(4))) for _ in range(4))
    hardware_address = reader.bytes(HARDWARE_FIELD)[:hlen]
    sname, file = reader.bytes(64), reader.bytes(128)
    if reader.bytes(4) != COOKIE:
        raise MalformedMessage(message=NAME, offset=236, problem="no magic cookie")
    parts = o.scan(reader)
    overload = _overload(parts)
    return DhcpMessage(
        op=op,
        xid=xid,
        hardware_address=hardware_address,
        hardware_type=hardware_type,
        hops=hops,
        secs=secs,
        flags=flags,
        ciaddr=ciaddr,
        yiaddr=yiaddr,
        siaddr=siaddr,
        giaddr=giaddr,
        sname=b"" if overload & 2 else sname.rstrip(b"\0"),
        file=b"" if overload & 1 else file.rstrip(b"\0"),
        options=o.concatenate([*parts, *_overloaded(overload, file, sname)]),
    )


def _overload(parts: Iterable[tuple[int, bytes]]) -> int:
    """Return which fields carry options: bit 1 file, bit 2 sname (RFC 2132 §9.3)."""
    value = next((value for code, value in parts if code == Option.OVERLOAD), b"")
    return value[0] & 3 if len(value) == 1 else 0


def _overloaded(overload: int, file: bytes, sname: bytes) -> list[tuple[int, bytes]]:
    fields = [file] * (overload & 1) + [sname] * (overload >> 1 & 1)
    parts = [part for field in fields for part in o.scan(Reader(field, message=NAME))]
    return [part for part in parts if part[0] != Option.OVERLOAD]


def encode(message: DhcpMessage) -> bytes:
    """Return the payload of a UDP datagram, padded to the size that every relay takes."""
    head = bytes([message.op, message.hardware_type, len(message.hardware_address), message.hops])
    body = b"".join(
        (
            head,
            message.xid.to_bytes(4),
            message.secs.to_bytes(2),
            message.flags.to_bytes(2),
            o.pack_addresses(message.ciaddr, message.yiaddr, message.siaddr, message.giaddr),
            message.hardware_address.ljust(HARDWARE_FIELD, b"\0"),
            message.sname.ljust(64, b"\0"),
            message.file.ljust(128, b"\0"),
            COOKIE,
            o.encode_options(message.options),
        )
    )
    return body.ljust(SMALLEST, b"\0")


def discover(
    *,
    xid: int,
    hardware_address: bytes,
    extra: Options = (),
    parameters: Iterable[int] = PARAMETERS,
) -> DhcpMessage:
    """Return a DISCOVER that asks for broadcast replies; it takes no lease (RFC 2131 §3.1)."""
    return DhcpMessage(
        op=Op.REQUEST,
        xid=xid,
        hardware_address=hardware_address,
        flags=BROADCAST_FLAG,
        options=(
            (Option.MESSAGE_TYPE, bytes([MessageType.DISCOVER])),
            (Option.PARAMETER_LIST, bytes(parameters)),
            *extra,
        ),
    )


def presence(*, xid: int, hardware_address: bytes) -> DhcpMessage:
    """Return a REQUEST that cannot be granted and shows whether a server is there.

    It has the form of INIT-REBOOT (RFC 2131 §4.3.2) for an address of no network: a server that
    knows its network answers NAK, any other stays silent.
    """
    return DhcpMessage(
        op=Op.REQUEST,
        xid=xid,
        hardware_address=hardware_address,
        flags=BROADCAST_FLAG,
        options=(
            (Option.MESSAGE_TYPE, bytes([MessageType.REQUEST])),
            (Option.REQUESTED_ADDRESS, o.pack_addresses(UNGRANTABLE)),
        ),
    )


def request(
    offer: DhcpMessage, *, extra: Options = (), parameters: Iterable[int] = PARAMETERS
) -> DhcpMessage:
    """Return the REQUEST that takes an offer (RFC 2131 §4.3.2 SELECTING).

    For the practice network's own client alone: the lease probe never takes an offer.
    """
    return DhcpMessage(
        op=Op.REQUEST,
        xid=offer.xid,
        hardware_address=offer.hardware_address,
        flags=BROADCAST_FLAG,
        options=(
            (Option.MESSAGE_TYPE, bytes([MessageType.REQUEST])),
            (Option.SERVER_ID, offer.option(Option.SERVER_ID) or b""),
            (Option.REQUESTED_ADDRESS, o.pack_addresses(offer.yiaddr)),
            (Option.PARAMETER_LIST, bytes(parameters)),
            *extra,
        ),
    )


def reply(
    asked: DhcpMessage,
    message_type: MessageType,
    *,
    server_id: str,
    address: str = NO_ADDRESS,
    options: Options = (),
) -> DhcpMessage:
    """Return a server's reply to a message (RFC 2131 §4.3.1 Table 3); `address` is yiaddr."""
    return DhcpMessage(
        op=Op.REPLY,
        xid=asked.xid,
        hardware_address=asked.hardware_address,
        hardware_type=asked.hardware_type,
        flags=asked.flags,
        giaddr=asked.giaddr,
        yiaddr=address,
        options=(
            (Option.MESSAGE_TYPE, bytes([message_type])),
            (Option.SERVER_ID, o.pack_addresses(server_id)),
            *options,
        ),
    )


def default_timers(lease_s: int) -> tuple[int, int] | None:
    """Return (T1, T2) in seconds of a lease that names none; None for an infinite one.

    T1 = 0.5 x lease, T2 = 0.875 x lease (RFC 2131 §4.4.5), in whole seconds as options carry them.
    """
    if lease_s == o.INFINITE_LEASE_S:
        return None
    return lease_s // 2, lease_s * 7 // 8
