"""The fitness table: a threshold where the fact is a number, none where it is so or not."""

from __future__ import annotations

from collections.abc import Iterator

from agent.settings.allowed import number
from agent.settings.checks.parts import Parts, Problem

_FITNESS_UNITS = {
    "other_traffic": ("bps", "ratio"),
    "processor_busy": ("ratio",),
    "port_ceiling": ("ratio",),
    "clock_offset": ("ms",),
    "memory_low": ("ratio",),
    "usb_bus": ("ratio",),
    "hidden_hop": ("ms",),
    "laptop_check": ("ratio",),
}


def fitness(parts: Parts) -> Iterator[Problem]:
    """Yield facts whose unit or threshold is not what the fact is measured in."""
    for name, rule in parts.fitness.items():
        units = _FITNESS_UNITS.get(name, ("none",))
        if rule.unit not in units:
            allowed = " or ".join(f'"{unit}"' for unit in units)
            path = ("fitness", name, "unit")
            yield Problem(path=path, found=f'"{rule.unit}"', allowed=allowed)
        elif (rule.threshold is None) != (rule.unit == "none"):
            found = "nothing" if rule.threshold is None else number(rule.threshold)
            simple = rule.unit == "none"
            allowed = "no threshold: it is so or not" if simple else f"a number ({rule.unit})"
            yield Problem(path=("fitness", name, "threshold"), found=found, allowed=allowed)
