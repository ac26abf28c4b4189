"""Processor time and power of this laptop, and whether it is one at all, on Linux."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

from agent.engines.linux_sysfs import virtual_machine
from agent.engines.portable_load import read_load as read_portable
from agent.ports.facts import Load


def read_load(root: Path) -> Load:
    """Return processor seconds since the system started, power, and whether this is a guest."""
    return replace(read_portable(), virtual_machine=virtual_machine(root))
