"""DHCPv6 messages between client and server (RFC 8415 §8), as far as a probe asks and reads.

Whoever sends only SOLICIT and INFORMATION-REQUEST takes nothing: a server commits itself in a
REPLY to a REQUEST, or to a SOLICIT with Rapid Commit, which is never sent (RFC 8415 §18.2.1).
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from enum import IntEnum
from ipaddress import IPv6Address, IPv6Network

from agent.codec.dhcp_options import uri
from agent.codec.domain_list import decode_domains
from agent.codec.reader import Reader
from agent.errors import MalformedMessage

NAME = "DHCPv6 message"
CLIENT_PORT, SERVER_PORT = 546, 547
"""RFC 8415 §7.2."""

ALL_SERVERS = "ff02::1:2"
"""All_DHCP_Relay_Agents_and_Servers (RFC 8415 §7.1)."""

INFINITE_S = 0xFFFF_FFFF
"""RFC 8415 §7.7."""

MOST_OPTIONS = 64
LONGEST_DUID = 130
"""Two octets of type and up to 128 more (RFC 8415 §11.1)."""

REFRESH_LEAST_S = 600
"""IRT_MINIMUM (RFC 8415 §7.6)."""


class MessageType(IntEnum):
    """RFC 8415 §7.3."""

    SOLICIT = 1
    ADVERTISE = 2
    REQUEST = 3
    REPLY = 7
    INFORMATION_REQUEST = 11


class Option(IntEnum):
    """Option codes (RFC 8415 §21, RFC 3646, RFC 8910 §2.2)."""

    CLIENT_ID = 1
    SERVER_ID = 2
    IA_NA = 3
    IA_ADDRESS = 5
    REQUESTED = 6
    PREFERENCE = 7
    ELAPSED = 8
    STATUS = 13
    DNS = 23
    DOMAINS = 24
    IA_PD = 25
    IA_PREFIX = 26
    REFRESH = 32
    SOL_MAX_RT = 82
    CAPTIVE_PORTAL = 103


class Status(IntEnum):
    """Status codes (RFC 8415 §21.13)."""

    SUCCESS = 0
    UNSPECIFIED = 1
    NO_ADDRESSES = 2
    NO_BINDING = 3
    NOT_ON_LINK = 4
    USE_MULTICAST = 5
    NO_PREFIX = 6


Options = tuple[tuple[int, bytes], ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Lent:
    """An address (length 128) or a delegated prefix with its lifetimes in seconds."""

    network: str
    prefix: int = 128
    preferred_s: int
    valid_s: int
    status: int | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Association:
    """One IA_NA or IA_PD; T1 or T2 of 0 leaves the time to the client (RFC 8415 §14.2)."""

    identity: int
    t1_s: int = 0
    t2_s: int = 0
    lent: tuple[Lent, ...] = ()
    status: int | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Dhcp6Message:
    """One message; `transaction` has 24 bits, options stand in the order of the wire.

    The properties read options when asked: None or () where one is missing or broken.
    """

    kind: int
    transaction: int
    options: Options = ()

    def option(self, code: int) -> bytes | None:
        """Return the value of the first option of a code."""
        return next((value for found, value in self.options if found == code), None)

    @property
    def client_id(self) -> bytes | None:
        """Return the client's DUID."""
        return self.option(Option.CLIENT_ID)

    @property
    def server_id(self) -> bytes | None:
        """Return the server's DUID, None where it is empty or too long (RFC 8415 §11.1)."""
        found = self.option(Option.SERVER_ID)
        return found if found and 2 < len(found) <= LONGEST_DUID else None

    @property
    def preference(self) -> int:
        """Return the server's preference, 0 where it names none (RFC 8415 §18.2.1)."""
        return self._number(Option.PREFERENCE, 1) or 0

    @property
    def status(self) -> int | None:
        """Return the status of the whole message; None stands for success (RFC 8415 §21.13)."""
        return _status(self.options)

    @property
    def addresses(self) -> tuple[Association, ...]:
        """Return the IA_NAs (RFC 8415 §21.4)."""
        return self._associations(Option.IA_NA)

    @property
    def delegations(self) -> tuple[Association, ...]:
        """Return the IA_PDs (RFC 8415 §21.21)."""
        return self._associations(Option.IA_PD)

    @property
    def dns(self) -> tuple[str, ...]:
        """Return the resolvers (RFC 3646 §3), empty where the length is no multiple of 16."""
        value = self.option(Option.DNS) or b""
        whole = range(0, len(value), 16) if len(value) % 16 == 0 else ()
        return tuple(str(IPv6Address(value[at : at + 16])) for at in whole)

    @property
    def domains(self) -> tuple[str, ...]:
        """Return the search list (RFC 3646 §4)."""
        try:
            return decode_domains(self.option(Option.DOMAINS) or b"")
        except MalformedMessage:
            return ()

    @property
    def captive_api(self) -> str | None:
        """Return the URI of the captive portal's API (RFC 8910 §2.2)."""
        return uri(self.option(Option.CAPTIVE_PORTAL))

    @property
    def refresh_s(self) -> int | None:
        """Return when to ask again for information, never below 600 s (RFC 8415 §21.23)."""
        found = self._number(Option.REFRESH, 4)
        return None if found is None else max(found, REFRESH_LEAST_S)

    @property
    def faulty_options(self) -> tuple[int, ...]:
        """Return the codes whose values break the form of their standard."""
        found = (code for code, value in self.options if not _sound(code, value))
        return tuple(dict.fromkeys(found))

    def _number(self, code: int, length: int) -> int | None:
        value = self.option(code)
        return int.from_bytes(value) if value is not None and len(value) == length else None

    def _associations(self, code: int) -> tuple[Association, ...]:
        found = (_perhaps(code, value) for kind, value in self.options if kind == code)
        return tuple(one for one in found if one is not None)


def decode(data: bytes) -> Dhcp6Message:
    """Return the message of a datagram; raises MalformedMessage for a broken frame of options."""
    reader = Reader(data, message=NAME)
    kind, transaction = reader.u8(), int.from_bytes(reader.bytes(3))
    return Dhcp6Message(kind=kind, transaction=transaction, options=_options(reader))


def encode(message: Dhcp6Message) -> bytes:
    """Return the message as a datagram carries it."""
    head = bytes((message.kind,)) + message.transaction.to_bytes(3)
    return head + encode_options(message.options)


def encode_options(options: Options) -> bytes:
    """Return options as code, length, value (RFC 8415 §21.1)."""
    return b"".join(
        int(code).to_bytes(2) + len(value).to_bytes(2) + value for code, value in options
    )


def _options(reader: Reader) -> Options:
    found: list[tuple[int, bytes]] = []
    while reader.remaining:
        if len(found) == MOST_OPTIONS:
            reader.fail("too many options")
        code = reader.u16()
        found.append((code, reader.bytes(reader.u16())))
    return tuple(found)


def decode_association(code: int, value: bytes) -> Association:
    """Return what an IA_NA or IA_PD lends.

    One with T1 past T2, and what it lends with preferred past valid lifetime, are left out as
    RFC 8415 §21.4, §21.6, §21.21, §21.22 tell clients. Raises MalformedMessage.
    """
    reader = Reader(value, message="identity association")
    identity, t1_s, t2_s = reader.u32(), reader.u32(), reader.u32()
    options = _options(reader)
    if t1_s > t2_s > 0:
        reader.fail("T1 past T2")
    inner = Option.IA_ADDRESS if code == Option.IA_NA else Option.IA_PREFIX
    lent = [_lent(inner, one) for kind, one in options if kind == inner]
    return Association(
        identity=identity,
        t1_s=t1_s,
        t2_s=t2_s,
        lent=tuple(one for one in lent if one.preferred_s <= one.valid_s),
        status=_status(options),
    )


def encode_association(code: int, told: Association) -> bytes:
    """Return the value of an IA_NA or IA_PD."""
    inner: list[tuple[int, bytes]] = [_lent_option(code, one) for one in told.lent]
    if told.status is not None:
        inner.append((Option.STATUS, told.status.to_bytes(2)))
    head = told.identity.to_bytes(4) + told.t1_s.to_bytes(4) + told.t2_s.to_bytes(4)
    return head + encode_options(tuple(inner))


def _lent_option(code: int, one: Lent) -> tuple[int, bytes]:
    packed = IPv6Address(one.network).packed
    times = one.preferred_s.to_bytes(4) + one.valid_s.to_bytes(4)
    if code == Option.IA_NA:
        return Option.IA_ADDRESS, packed + times
    return Option.IA_PREFIX, times + bytes((one.prefix,)) + packed


def _lent(inner: Option, value: bytes) -> Lent:
    reader = Reader(value, message="what is lent")
    packed = reader.bytes(16) if inner is Option.IA_ADDRESS else b""
    preferred_s, valid_s = reader.u32(), reader.u32()
    prefix = 128
    if inner is Option.IA_PREFIX:
        prefix, packed = reader.u8(), reader.bytes(16)
    if prefix > 128:
        reader.fail(f"{prefix} bits")
    network = IPv6Network((packed, prefix), strict=False).network_address
    return Lent(
        network=str(network),
        prefix=prefix,
        preferred_s=preferred_s,
        valid_s=valid_s,
        status=_status(_options(reader)),
    )


def _status(options: Options) -> int | None:
    value = next((value for code, value in options if code == Option.STATUS), None)
    return int.from_bytes(value[:2]) if value is not None and len(value) >= 2 else None


def _perhaps(code: int, value: bytes) -> Association | None:
    try:
        return decode_association(code, value)
    except MalformedMessage:
        return None


def _sound(code: int, value: bytes) -> bool:
    lengths = {Option.PREFERENCE: 1, Option.REFRESH: 4, Option.SOL_MAX_RT: 4}
    if code in lengths:
        return len(value) == lengths[Option(code)]
    if code in (Option.IA_NA, Option.IA_PD):
        return _whole(code, value)
    if code == Option.DNS:
        return bool(value) and len(value) % 16 == 0
    return code != Option.CAPTIVE_PORTAL or uri(value) is not None


def _whole(code: int, value: bytes) -> bool:
    """Tell whether an association can be used, and everything that it lends too."""
    told = _perhaps(code, value)
    if told is None:
        return False
    inner = Option.IA_ADDRESS if code == Option.IA_NA else Option.IA_PREFIX
    reader = Reader(value[12:], message="identity association")
    return len(told.lent) == sum(kind == inner for kind, _ in _options(reader))


def link_layer_duid(hardware_address: bytes) -> bytes:
    """Return the DUID of an Ethernet address without a time: DUID-LL (RFC 8415 §11.4)."""
    return b"\0\3\0\1" + hardware_address


ETHERNET = 1
"""Hardware type of RFC 8415 §11.2 and §11.4."""


def duid_text(duid: bytes) -> str:
    """Return a DUID in writing (RFC 8415 §11.2 to §11.5), of other forms the type and the rest.

    An Ethernet address in it is written as one, so that whatever hides addresses finds it.
    """
    reader = Reader(duid, message="DUID")
    kind = reader.u16()
    if kind in (1, 3) and len(duid) == (14 if kind == 1 else 10) and reader.u16() == ETHERNET:
        time = f" {reader.u32()}" if kind == 1 else ""
        return f"link-layer{time} {reader.rest().hex(':')}"
    names = {1: "link-layer-time", 2: "enterprise", 3: "link-layer", 4: "uuid"}
    return f"{names.get(kind, f'type-{kind}')} {duid[2:].hex()}"


WANTED = (Option.DNS, Option.DOMAINS, Option.CAPTIVE_PORTAL, Option.SOL_MAX_RT)
"""What the probe asks for; SOL_MAX_RT is asked for by everyone (RFC 8415 §18.2.1)."""


def solicit(transaction: int, duid: bytes, identity: int, elapsed_s: float = 0.0) -> Dhcp6Message:
    """Return a SOLICIT for an address and a delegated prefix, without Rapid Commit."""
    empty = Association(identity=identity)
    asked = tuple((code, encode_association(code, empty)) for code in (Option.IA_NA, Option.IA_PD))
    return _asking(MessageType.SOLICIT, transaction, duid, WANTED, elapsed_s, asked)


def information_request(transaction: int, duid: bytes, elapsed_s: float = 0.0) -> Dhcp6Message:
    """Return the question for resolvers and the like alone (RFC 8415 §18.2.6)."""
    wanted = (*WANTED, Option.REFRESH)
    return _asking(MessageType.INFORMATION_REQUEST, transaction, duid, wanted, elapsed_s)


def _asking(  # noqa: PLR0917 - the parts of every question in the order of the wire
    kind: MessageType,
    transaction: int,
    duid: bytes,
    wanted: Sequence[int],
    elapsed_s: float,
    more: Options = (),
) -> Dhcp6Message:
    hundredths = min(0xFFFF, int(elapsed_s * 100))
    return Dhcp6Message(
        kind=kind,
        transaction=transaction,
        options=(
            (Option.CLIENT_ID, duid),
            (Option.REQUESTED, b"".join(int(code).to_bytes(2) for code in wanted)),
            (Option.ELAPSED, hundredths.to_bytes(2)),
            *more,
        ),
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class Retransmission:
    """When a message is sent again: first and longest wait in seconds, tries (0 = no end)."""

    first_s: float
    longest_s: float = 0.0
    tries: int = 0

    def waits_s(self, spread: Iterator[float]) -> Iterator[float]:
        """Yield the wait after each sending; `spread` gives a factor within ±0.1 (RFC 8415 §15)."""
        wait_s, sent = 0.0, 0
        while not self.tries or sent < self.tries:
            factor = next(spread)
            doubled_s = wait_s * (2 + factor) if sent else self.first_s * (1 + factor)
            capped = bool(self.longest_s) and doubled_s > self.longest_s
            wait_s = self.longest_s * (1 + factor) if capped else doubled_s
            sent += 1
            yield wait_s


SOLICIT_AGAIN = Retransmission(first_s=1, longest_s=3600)
REQUEST_AGAIN = Retransmission(first_s=1, longest_s=30, tries=10)
RENEW_AGAIN = Retransmission(first_s=10, longest_s=600)
INFORMATION_AGAIN = Retransmission(first_s=1, longest_s=3600)
"""RFC 8415 §7.6."""
