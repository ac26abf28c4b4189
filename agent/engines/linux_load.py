"""Processor time, power and memory of this laptop, and whether it is one at all, on Linux."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

from agent.engines.linux_power import on_battery, power_saver
from agent.engines.linux_sysfs import memory, virtual_machine
from agent.engines.portable_load import read_load as read_portable
from agent.ports.facts import Load


def read_load(root: Path) -> Load:
    """Return processor seconds since the system started, power, memory, whether it is a guest."""
    total, free = memory(root)
    return replace(
        read_portable(power=False),
        virtual_machine=virtual_machine(root),
        on_battery=on_battery(root),
        power_saver=power_saver(root),
        memory_bytes=total,
        memory_free_bytes=free,
    )
