r"""What Windows' registry keeps of an interface's addresses and leases, as one frozen form.

Names and types of the values beneath Tcpip\Parameters\Interfaces, from memory of the vendor's
reference; never seen on a real system. The times are seconds since 1970, T1 and T2 among them.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import UTC, datetime
from ipaddress import IPv4Address

INFINITE_S = 0xFFFF_FFFF
"""RFC 2131 §3.3."""

MOST_ADDRESSES = 16
_SWITCH = {0: False, 1: True, None: None}
_SEPARATORS = re.compile(r"[\s,;]+")


@dataclass(frozen=True, slots=True, kw_only=True)
class RegisteredAddress:
    """One interface's IPv4 settings; `dhcp` is None where the registry does not say.

    `obtained` and `expires` are wall times; `t1_s` and `t2_s` count from `obtained`.
    """

    addresses: tuple[str, ...]
    dhcp: bool | None
    gateways: tuple[str, ...] = ()
    dns: tuple[str, ...] = ()
    server_id: str | None = None
    lease_s: int | None = None
    t1_s: int | None = None
    t2_s: int | None = None
    obtained: datetime | None = None
    expires: datetime | None = None


def registered_address(values: Mapping[str, object]) -> RegisteredAddress:
    """Return what one key says; values of another type than documented are left out."""
    dhcp = _SWITCH.get(_number(values.get("EnableDHCP")))
    by_hand = _addresses(values.get("NameServer"))
    if not dhcp:
        return RegisteredAddress(
            addresses=_addresses(values.get("IPAddress")),
            dhcp=dhcp,
            gateways=_addresses(values.get("DefaultGateway")),
            dns=by_hand,
        )
    obtained = _number(values.get("LeaseObtainedTime"))
    lease_s = _number(values.get("Lease"))
    servers = _addresses(values.get("DhcpServer"))
    return RegisteredAddress(
        addresses=_addresses(values.get("DhcpIPAddress")),
        dhcp=True,
        gateways=_addresses(values.get("DhcpDefaultGateway")),
        dns=by_hand or _addresses(values.get("DhcpNameServer")),
        server_id=servers[0] if servers else None,
        lease_s=lease_s,
        t1_s=_since(values.get("T1"), obtained, lease_s),
        t2_s=_since(values.get("T2"), obtained, lease_s),
        obtained=_time(obtained),
        expires=None
        if lease_s == INFINITE_S
        else _time(_number(values.get("LeaseTerminatesTime"))),
    )


def _since(value: object, obtained: int | None, lease_s: int | None) -> int | None:
    """Return a renewal time from the start of the lease; None where it lies outside the lease."""
    moment = _number(value)
    if moment is None or obtained is None or lease_s is None:
        return None
    return moment - obtained if 0 < moment - obtained <= lease_s else None


def _number(value: object) -> int | None:
    if not isinstance(value, int) or isinstance(value, bool):
        return None
    return value if 0 <= value <= INFINITE_S else None


def _time(seconds: int | None) -> datetime | None:
    return datetime.fromtimestamp(seconds, UTC) if seconds else None


def _addresses(value: object) -> tuple[str, ...]:
    """Return the IPv4 addresses in a text or a list of texts, without the unspecified one."""
    texts = value if isinstance(value, list | tuple) else [value]
    words = (w for text in texts if isinstance(text, str) for w in _SEPARATORS.split(text[:1024]))
    found = (_address(word) for word in words)
    return tuple(dict.fromkeys(one for one in found if one is not None))[:MOST_ADDRESSES]


def _address(word: str) -> str | None:
    try:
        found = IPv4Address(word)
    except ValueError:
        return None
    return None if found.is_unspecified or str(found) == "255.255.255.255" else str(found)
