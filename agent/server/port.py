"""The network interface that clients reach the server by: how fast it is, what it moves."""

from __future__ import annotations

import ipaddress
import socket
import struct
import sys
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path

from agent.units import MEGA

NET = Path("/sys/class/net")
ROUTES = Path("/proc/net/route")
ROUTES_6 = Path("/proc/net/ipv6_route")
ADDRESSES_6 = Path("/proc/net/if_inet6")
LOOPBACK = "lo"
MAX_DEPTH = 4

_SIOCGIFADDR = 0x8915  # linux/sockios.h; answers with a struct ifreq (netdevice(7))
_IFREQ = struct.Struct("@16s24x")
_IFREQ_ADDRESS = slice(20, 24)


@dataclass(frozen=True, slots=True, kw_only=True)
class Counters:
    """Octets that an interface has received and sent since it came up."""

    received: int
    sent: int


def interface_of(host: str) -> str | None:
    """Return the interface that holds an address; for a wildcard the one of the default route.

    None where there is none, it is loopback, or the system does not say.
    """
    if sys.platform != "linux":
        return None
    address = ipaddress.ip_address(host.partition("%")[0])
    if address.is_unspecified:
        name = _default_route()
    elif isinstance(address, ipaddress.IPv6Address):
        name = _holder_6(address)
    else:
        name = _holder_4(address)
    return None if name == LOOPBACK else name


def speed_bps(name: str, net: Path = NET) -> float | None:
    """Return the speed of an interface, or of the real ones under it; None where not known.

    What has no device below it tells a speed that nothing holds it to.
    """
    return _speed_bps(net / name, MAX_DEPTH)


def counters(name: str, net: Path = NET) -> Counters | None:
    """Return an interface's octet counters, None where it has none."""
    folder = net / name / "statistics"
    received, sent = _number(folder / "rx_bytes"), _number(folder / "tx_bytes")
    return None if received is None or sent is None else Counters(received=received, sent=sent)


def _speed_bps(folder: Path, depth: int) -> float | None:
    if (folder / "device").exists() or (folder / "bonding").exists():
        mbps = _number(folder / "speed")
        return None if mbps is None or mbps <= 0 else float(mbps * MEGA)
    if not depth:
        return None
    below = [_speed_bps(lower, depth - 1) for lower in folder.glob("lower_*")]
    return max((speed for speed in below if speed is not None), default=None)


def _number(path: Path) -> int | None:
    try:
        return int(path.read_text("ascii"))
    except (OSError, ValueError):
        return None


def _default_route() -> str | None:
    for line in _lines(ROUTES)[1:]:
        name, destination, *_, mask = line.split()[:8]
        if (int(destination, 16), int(mask, 16)) == (0, 0):
            return name
    for line in _lines(ROUTES_6):
        destination, length, *_, name = line.split()
        if (int(destination, 16), int(length, 16)) == (0, 0) and name != LOOPBACK:
            return name
    return None


def _holder_6(wanted: ipaddress.IPv6Address) -> str | None:
    for line in _lines(ADDRESSES_6):
        held, *_, name = line.split()
        if int(held, 16) == int(wanted):
            return name
    return None


def _holder_4(wanted: ipaddress.IPv4Address) -> str | None:
    """Return the interface whose first address it is: the kernel tells no other this way."""
    from fcntl import ioctl  # noqa: PLC0415 - not there on every system

    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as sock:
        for _, name in socket.if_nameindex():
            with suppress(OSError):
                answer = ioctl(sock.fileno(), _SIOCGIFADDR, _IFREQ.pack(name.encode()))
                if answer[_IFREQ_ADDRESS] == wanted.packed:
                    return name
    return None


def _lines(path: Path) -> list[str]:
    try:
        return path.read_text("ascii").splitlines()
    except OSError:
        return []
