"""Interfaces as psutil tells of them on systems that have no engine of their own for that.

psutil tells neither the medium, nor whether an address is still being tried; macOS calls a port up
that has no link. From memory of psutil's sources: Windows knows no duplex and is said to be "full",
and its speed is a number of 32 bits, full at 4294 Mbit/s. Never run on a real macOS or Windows.
"""

from __future__ import annotations

import socket
from collections.abc import Iterator, Mapping, Sequence
from ipaddress import IPv4Network, ip_address
from typing import Any, Protocol

from agent.measurements import LinkFacts, Medium
from agent.ports.facts import HeldAddress

BITS_PER_MBIT = 1_000_000
FULL_AT_MBIT = 4294
DUPLEX = {1: "half", 2: "full"}
"""psutil's NIC_DUPLEX_HALF and NIC_DUPLEX_FULL."""

FAMILIES = {socket.AF_INET: 4, socket.AF_INET6: 6}

_MAC_MEDIA = {
    "lo": Medium.LOOPBACK,
    "utun": Medium.TUNNEL,
    "ipsec": Medium.TUNNEL,
    "ppp": Medium.PPP,
}
"""Names that macOS documents for one kind of interface; a cable and a radio are both "en"."""


class Tell(Protocol):
    """The part of psutil that is used here."""

    def net_if_addrs(self) -> Mapping[str, Sequence[Any]]:
        """Return the addresses of each interface."""
        ...

    def net_if_stats(self) -> Mapping[str, Any]:
        """Return state, duplex, speed and MTU of each interface."""
        ...

    def net_io_counters(self, *, pernic: bool) -> Mapping[str, Any]:
        """Return what each interface carried."""
        ...


def mac_medium(name: str) -> Medium:
    """Return the medium that an interface's name stands for on macOS."""
    return _MAC_MEDIA.get(name.rstrip("0123456789"), Medium.UNKNOWN)


def describe(
    name: str,
    stats: Any,
    held: Sequence[HeldAddress],
    rows: Sequence[Any],
    counted: Any,
    *,
    medium: Medium,
    duplex_told: bool,
) -> LinkFacts:
    """Return one interface; the holder of a loopback address is loopback whatever its name."""
    loopback = any(ip_address(one.address).is_loopback for one in held)
    return LinkFacts(
        interface=name,
        up=bool(stats.isup),
        medium=Medium.LOOPBACK if loopback else medium,
        hardware_address=_hardware(rows),
        speed_bps=_speed_bps(int(stats.speed)),
        duplex=DUPLEX.get(int(stats.duplex)) if duplex_told else None,
        mtu_bytes=int(stats.mtu) or None,
        receive_errors=None if counted is None else int(counted.errin),
        transmit_errors=None if counted is None else int(counted.errout),
    )


def held_addresses(rows: Sequence[Any]) -> Iterator[HeldAddress]:
    """Yield the addresses among an interface's rows, without the zone of link-local ones."""
    for row in rows:
        address, family = str(row.address).partition("%")[0], FAMILIES.get(row.family)
        if family is not None and _valid(address):
            yield HeldAddress(address=address, prefix=_prefix(row.netmask, family), family=family)


def _valid(address: str) -> bool:
    try:
        ip_address(address)
    except ValueError:
        return False
    return True


def _prefix(mask: str | None, family: int) -> int | None:
    """Return the length of a mask, None where it is missing or no mask."""
    try:
        if family == 4:
            return IPv4Network(f"0.0.0.0/{mask}").prefixlen if mask else None
        bits = f"{int(ip_address(mask or '')):0128b}"
    except ValueError:
        return None
    ones = bits.rstrip("0")
    return None if "0" in ones else len(ones)


def _speed_bps(mbit: int) -> int | None:
    return mbit * BITS_PER_MBIT if 0 < mbit != FULL_AT_MBIT else None


def _hardware(rows: Sequence[Any]) -> str | None:
    """Return the hardware address, which Windows writes with hyphens."""
    words = (str(row.address) for row in rows if row.family not in FAMILIES)
    return next((word.replace("-", ":").lower() for word in words), None)
