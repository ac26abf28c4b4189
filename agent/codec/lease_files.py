"""Lease files of DHCP clients, from text or bytes to one frozen form.

dhclient.leases(5) is documented; the run-time files of networkd and of NetworkManager's own client
say of themselves that they are private, so whatever they lack stays None; dhcpcd keeps the server's
message as it came.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from datetime import UTC, datetime
from ipaddress import IPv4Address, IPv4Network

from agent.codec import dhcp
from agent.codec.dhcp_options import INFINITE_LEASE_S

TOKEN = re.compile(r"\"(?:\\.|[^\"\\])*+\"?+|[{};]|[^\s\"{};]++", re.DOTALL)
"""A quoted string, a mark or a word; no token is ever read twice."""

MOST_ADDRESSES = 16
MOST_URL = 255
_DHCLIENT_PORTAL = ("option v4-captive-portal", "option default-url")
"""What dhclient calls option 114 now, and what it called it before RFC 8910; from memory."""


SPAN_S = {"y": 31_557_600, "month": 2_629_800, "w": 604_800, "d": 86_400}
SPAN_S |= {"h": 3600, "min": 60, "s": 1}
"""systemd.time(7), the units in which it writes time spans down."""

SPAN_PART = re.compile(r"([0-9]{1,9}(?:\.[0-9]{1,6})?)(y|month|w|d|h|min|s)(?![a-z])")
SPAN = re.compile(f"{SPAN_PART.pattern}(?: {SPAN_PART.pattern})*")
LONGEST_SPAN = 60


@dataclass(frozen=True, slots=True, kw_only=True)
class FiledLease:
    """One lease as a client wrote it down or tells it; None where it does not say.

    `origin` is "static" for an address that the client was told to take, else "dhcp". With `whole`
    everything stands here that the server said: routers or resolvers that are missing were none.
    """

    address: str
    origin: str = "dhcp"
    whole: bool = False
    interface: str | None = None
    prefix: int | None = None
    routers: tuple[str, ...] = ()
    dns: tuple[str, ...] = ()
    server_id: str | None = None
    lease_s: int | None = None
    t1_s: int | None = None
    t2_s: int | None = None
    obtained: datetime | None = None
    expires: datetime | None = None
    captive_api: str | None = None


def dhclient_leases(text: str) -> tuple[FiledLease, ...]:
    """Return the leases of a dhclient file, oldest first; unreadable ones are left out."""
    found = (_dhclient_lease(block) for block in _blocks(TOKEN.findall(text)))
    return tuple(lease for lease in found if lease is not None)


def _blocks(parts: Iterable[str]) -> Iterator[dict[str, str]]:
    """Yield the statements of each finished "lease { ... }", keyed by their names."""
    said: dict[str, str] | None = None
    words: list[str] = []
    for part in parts:
        if part not in ("{", "}", ";"):
            words.append(part)
            continue
        if part == "{":
            said = {} if words == ["lease"] else None
        elif part == ";" and said is not None:
            named = 2 if words[:1] == ["option"] else 1
            said[" ".join(words[:named])] = " ".join(words[named:])
        elif part == "}" and said is not None:
            yield said
            said = None
        words = []


def _dhclient_lease(said: Mapping[str, str]) -> FiledLease | None:
    address = address_of(said.get("fixed-address"))
    return (
        None
        if address is None
        else FiledLease(
            address=address,
            whole="option dhcp-server-identifier" in said,
            interface=said.get("interface", "").strip('"') or None,
            prefix=prefix_of(said.get("option subnet-mask")),
            routers=addresses_of(said.get("option routers")),
            dns=addresses_of(said.get("option domain-name-servers")),
            server_id=address_of(said.get("option dhcp-server-identifier")),
            lease_s=number_of(said.get("option dhcp-lease-time")),
            t1_s=number_of(said.get("option dhcp-renewal-time")),
            t2_s=number_of(said.get("option dhcp-rebinding-time")),
            expires=_stamp(said.get("expire")),
            captive_api=_portal(said, *_DHCLIENT_PORTAL),
        )
    )


def keyed_lease(text: str) -> FiledLease | None:
    """Return the lease of a KEY=VALUE file (networkd and NetworkManager's own client)."""
    pairs = (line.split("=", 1) for line in text.splitlines() if "=" in line)
    said: Mapping[str, str] = {key.strip(): value.strip() for key, value in pairs}
    address = address_of(said.get("ADDRESS"))
    return (
        None
        if address is None
        else FiledLease(
            address=address,
            whole="SERVER_ADDRESS" in said,
            prefix=prefix_of(said.get("NETMASK")),
            routers=addresses_of(said.get("ROUTER")),
            dns=addresses_of(said.get("DNS")),
            server_id=address_of(said.get("SERVER_ADDRESS")),
            lease_s=span_of(said.get("LIFETIME")),
            t1_s=span_of(said.get("T1")),
            t2_s=span_of(said.get("T2")),
            captive_api=_portal(said, "CAPTIVE_PORTAL"),
        )
    )


def message_lease(data: bytes) -> FiledLease:
    """Return the lease in a server's own message (dhcpcd). Raises MalformedMessage."""
    message = dhcp.decode(data)
    return FiledLease(
        address=message.yiaddr,
        whole=True,
        prefix=prefix_of(message.subnet_mask),
        routers=message.routers,
        dns=message.dns,
        server_id=message.server_id,
        lease_s=message.lease_s,
        t1_s=message.t1_s,
        t2_s=message.t2_s,
        captive_api=message.captive_api,
    )


def nameservers(text: str) -> tuple[str, ...]:
    """Return the resolvers of a resolv.conf(5), zone of link-local addresses kept."""
    rows = (line.split() for line in text.splitlines())
    named = (row[1] for row in rows if len(row) > 1 and row[0] == "nameserver")
    return tuple(dict.fromkeys(name for name in named if len(name) < 64))[:MOST_ADDRESSES]


def _stamp(value: str | None) -> datetime | None:
    """Return "3 2026/11/25 21:00:00" (UTC) or "epoch 1795640400" as time; "never" is None."""
    words = (value or "").split()
    try:
        if words[:1] == ["epoch"]:
            return datetime.fromtimestamp(int(words[1]), UTC)
        return datetime.strptime(" ".join(words[1:3]), "%Y/%m/%d %H:%M:%S").replace(tzinfo=UTC)
    except (ValueError, IndexError, OverflowError, OSError):
        return None


def _portal(said: Mapping[str, str], *names: str) -> str | None:
    """Return the captive portal API that one of the names holds (RFC 8910)."""
    found = (said.get(name, "").strip('"') for name in names)
    return next((u for u in found if 0 < len(u) <= MOST_URL and u.isprintable()), None)


def address_of(value: str | None) -> str | None:
    """Return a text if it is an IPv4 address, in its usual form."""
    try:
        return str(IPv4Address((value or "").strip()))
    except ValueError:
        return None


def addresses_of(value: str | None) -> tuple[str, ...]:
    """Return the IPv4 addresses in a text, apart by spaces or commas; others are left out."""
    found = (address_of(word) for word in re.split(r"[\s,]+", value or ""))
    return tuple(address for address in found if address is not None)[:MOST_ADDRESSES]


def prefix_of(mask: str | None) -> int | None:
    """Return the prefix length of a mask, None for what is none."""
    try:
        return IPv4Network(f"0.0.0.0/{mask}").prefixlen if mask else None
    except ValueError:
        return None


def number_of(value: str | None) -> int | None:
    """Return a whole number of at most ten digits."""
    return int(value) if value and value.isascii() and value.isdigit() and len(value) < 11 else None


def span_of(value: str | None) -> int | None:
    """Return seconds written alone or, as systemd does since 253, with units: "8min 45s"."""
    if value == "infinity":
        return INFINITE_LEASE_S
    if value is None or len(value) > LONGEST_SPAN or not SPAN.fullmatch(value):
        return number_of(value)
    parts = SPAN_PART.findall(value)
    return round(sum(float(number) * SPAN_S[unit] for number, unit in parts))
