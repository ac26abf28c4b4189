"""Processor time and power of this laptop, through psutil alone."""

from __future__ import annotations

import time
from collections.abc import Mapping

import psutil

from agent.ports.facts import Load

IDLE = ("idle", "iowait")
COUNTED_TWICE = ("guest", "guest_nice")
"""Guest time is already part of user time (proc(5), /proc/stat)."""


def read_load(*, power: bool = True) -> Load:
    """Return processor seconds since the system started, memory, whether a battery is drained.

    `power` False leaves battery and memory to a caller who knows better.
    """
    times = [one._asdict() for one in psutil.cpu_times(percpu=True)]
    cores = tuple(_busy_and_total(one) for one in times)
    stolen = [one["steal"] for one in times if "steal" in one]
    held = psutil.virtual_memory() if power else None
    return Load(
        busy_s=sum(busy for busy, _ in cores),
        total_s=sum(total for _, total in cores),
        cores=cores,
        steal_s=sum(stolen) if stolen else None,
        process_s=time.process_time(),
        on_battery=_on_battery() if power else None,
        memory_bytes=held.total if held else None,
        memory_free_bytes=held.available if held else None,
    )


def _busy_and_total(times: Mapping[str, float]) -> tuple[float, float]:
    total = sum(value for name, value in times.items() if name not in COUNTED_TWICE)
    return total - sum(times.get(name, 0.0) for name in IDLE), total


def _on_battery() -> bool:
    """Return True only where a battery is there and no mains are plugged in."""
    battery = psutil.sensors_battery()
    return battery is not None and battery.power_plugged is False
