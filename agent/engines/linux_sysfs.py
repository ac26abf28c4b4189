"""What /sys and /proc add to netlink about a port: its device, its radio, its bus."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

BPS_PER_MBPS = 1_000_000
MOST_BYTES = 65_536


def read_text(path: Path) -> str | None:
    """Return the first part of a small file, None where it is absent or may not be read."""
    try:
        with path.open("rb") as file:
            return file.read(MOST_BYTES).decode(errors="replace").strip()
    except OSError:
        return None


def read_number(path: Path) -> int | None:
    """Return the number in a file, None where there is none."""
    text = read_text(path)
    try:
        return None if text is None else int(text)
    except ValueError:
        return None


@dataclass(frozen=True, slots=True, kw_only=True)
class Device:
    """The device behind an interface; `physical` False for what exists in software only.

    `role` is the kernel's word in DEVTYPE ("wlan", "wwan", "vlan"), `driver` the module's name.
    """

    physical: bool = False
    radio: bool = False
    role: str | None = None
    driver: str | None = None
    bus_bps: int | None = None


def device(root: Path, interface: str, index: int) -> Device | None:
    """Return the device of an interface, None where /sys speaks of another namespace.

    /sys shows the network namespace it was mounted in: an entry with another index is not ours.
    """
    entry = root / "sys/class/net" / interface
    if read_number(entry / "ifindex") != index:
        return None
    return Device(
        physical=(entry / "device").exists(),
        radio=(entry / "phy80211").exists() or (entry / "wireless").exists(),
        role=_role(entry / "uevent"),
        driver=_driver(entry / "device/driver"),
        bus_bps=_usb_bps(entry / "device"),
    )


def _role(path: Path) -> str | None:
    lines = (read_text(path) or "").splitlines()
    return next((line[8:] for line in lines if line.startswith("DEVTYPE=")), None)


def _driver(path: Path) -> str | None:
    return path.resolve().name if path.exists() else None


def _usb_bps(path: Path) -> int | None:
    """Return the rate of the USB port that the device hangs on, None for other buses."""
    if not path.exists():
        return None
    for folder in list(path.resolve().parents)[:3]:
        if (folder / "busnum").exists():
            speed = read_number(folder / "speed")
            return None if speed is None else speed * BPS_PER_MBPS
    return None


def pppoe_ports(root: Path) -> tuple[str, ...]:
    """Return the ports that carry PPPoE sessions (/proc/net/pppoe: id, address, device)."""
    lines = (read_text(root / "proc/net/pppoe") or "").splitlines()[1:]
    rows = (line.split() for line in lines)
    return tuple(dict.fromkeys(row[2] for row in rows if len(row) == 3))


def virtual_machine(root: Path) -> bool | None:
    """Return whether the processor says that it is a guest; only noted, it voids nothing."""
    text = read_text(root / "proc/cpuinfo")
    if text is None:
        return None
    flags = next((line for line in text.splitlines() if line.startswith("flags")), "")
    return "hypervisor" in flags.split()


def memory(root: Path) -> tuple[int | None, int | None]:
    """Return all memory and what programs could still get of it, bytes (proc_meminfo(5))."""
    lines = (read_text(root / "proc/meminfo") or "").splitlines()
    rows = (line.split() for line in lines)
    kibibytes = {row[0]: row[1] for row in rows if len(row) >= 2 and row[1].isdecimal()}
    total, free = (kibibytes.get(name) for name in ("MemTotal:", "MemAvailable:"))
    return _kibibytes(total), _kibibytes(free)


def _kibibytes(text: str | None) -> int | None:
    return None if text is None or len(text) > 15 else int(text) * 1024
