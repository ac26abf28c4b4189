"""Processor time and power of this laptop, through psutil."""

from __future__ import annotations

from pathlib import Path

import psutil

from agent.engines.linux_sysfs import virtual_machine
from agent.ports.facts import Load

IDLE = ("idle", "iowait")
COUNTED_TWICE = ("guest", "guest_nice")
"""Guest time is already part of user time (proc(5), /proc/stat)."""


def read_load(root: Path) -> Load:
    """Return processor seconds since the system started, and whether a battery is drained."""
    times = psutil.cpu_times()._asdict()
    total = sum(value for name, value in times.items() if name not in COUNTED_TWICE)
    idle = sum(times.get(name, 0.0) for name in IDLE)
    return Load(
        busy_s=total - idle,
        total_s=total,
        on_battery=_on_battery(),
        virtual_machine=virtual_machine(root),
    )


def _on_battery() -> bool:
    """Return True only where a battery is there and no mains are plugged in."""
    battery = psutil.sensors_battery()
    return battery is not None and battery.power_plugged is False
