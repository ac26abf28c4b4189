"""The leases that NetworkManager and networkd hold, asked over the system bus; no right is needed.

Interfaces: NetworkManager's D-Bus reference manual; org.freedesktop.network1(5).
"""

from __future__ import annotations

import time
from collections.abc import Callable, Iterator
from datetime import datetime
from pathlib import Path

from agent.codec.lease_files import FiledLease
from agent.codec.told_leases import described_leases, option_lease, typed_in
from agent.engines.linux_dbus import SystemBus, connect

MANAGER = "org.freedesktop.NetworkManager"
MANAGER_PATH = "/org/freedesktop/NetworkManager"
NETWORKD = "org.freedesktop.network1"
NETWORKD_PATH = "/org/freedesktop/network1"
NO_OBJECT = "/"
EXTERNAL = 0x80
"""NM_ACTIVATION_STATE_FLAG_EXTERNAL: a connection that only mirrors what another program set."""

Told = tuple[FiledLease, str]
"""A lease and the source that told it."""


class BusLeases:
    """Asks the managers in the order in which they are believed.

    A bus that does not answer in time is not asked again: every question would cost the same wait.
    """

    def __init__(self, root: Path, booted_s: Callable[[], float] | None = None) -> None:
        self._root = root
        self._booted_s = booted_s or since_start
        self._silent = False

    def leases(self, name: str, index: int, now: datetime) -> tuple[Told, ...]:
        """Return what is told of an interface; none where there is no bus or no manager."""
        if self._silent:
            return ()
        told: list[Told] = []
        try:
            with connect(self._root) as bus:
                told += ((lease, "networkmanager-dbus") for lease in _managed(bus, name))
                text = _description(bus, index)
                found = described_leases(text, now, self._booted_s())
                told += ((lease, "networkd-dbus") for lease in found)
        except TimeoutError:
            self._silent = True
        except (OSError, ValueError, KeyError, TypeError, IndexError):
            # jeepney has no error of its own for an answer that does not fit its signature.
            pass
        return tuple(told)


def since_start() -> float:
    """Return seconds since the system started, sleep included."""
    return time.clock_gettime(time.CLOCK_BOOTTIME)


def _managed(bus: SystemBus, name: str) -> Iterator[FiledLease]:
    """Yield NetworkManager's lease of an interface, or the addresses that were typed in."""
    asked = f"{MANAGER}.GetDeviceByIpIface"
    answer = bus.call(MANAGER, MANAGER_PATH, asked, name, signature="s")
    if not answer:
        return
    device = bus.properties(MANAGER, str(answer[0]), f"{MANAGER}.Device")
    leased = str(device.get("Dhcp4Config", NO_OBJECT))
    settings = str(device.get("Ip4Config", NO_OBJECT))
    if leased != NO_OBJECT:
        options = bus.properties(MANAGER, leased, f"{MANAGER}.DHCP4Config").get("Options")
        lease = option_lease(options) if isinstance(options, dict) else None
        if lease is not None:
            yield lease
    elif settings != NO_OBJECT and _is_its_own(bus, device):
        yield from typed_in(bus.properties(MANAGER, settings, f"{MANAGER}.IP4Config"))


def _is_its_own(bus: SystemBus, device: dict[str, object]) -> bool:
    """Tell whether NetworkManager set the addresses itself."""
    active = str(device.get("ActiveConnection", NO_OBJECT))
    if active == NO_OBJECT:
        return False
    flags = bus.properties(MANAGER, active, f"{MANAGER}.Connection.Active").get("StateFlags")
    return isinstance(flags, int) and not flags & EXTERNAL


def _description(bus: SystemBus, index: int) -> str:
    asked = f"{NETWORKD}.Manager.DescribeLink"
    answer = bus.call(NETWORKD, NETWORKD_PATH, asked, index, signature="i")
    return str(answer[0]) if answer else ""
