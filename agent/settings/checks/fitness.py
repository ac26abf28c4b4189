"""The fitness table: a threshold where the fact is a number, none where it is so or not."""

from __future__ import annotations

from collections.abc import Iterator

from agent.settings.allowed import number
from agent.settings.checks.parts import Parts, Problem

_FITNESS_UNITS = {
    "other_traffic": "bps",
    "processor_busy": "ratio",
    "port_ceiling": "ratio",
    "clock_offset": "ms",
}


def fitness(parts: Parts) -> Iterator[Problem]:
    """Yield facts whose unit or threshold is not what the fact is measured in."""
    for name, rule in parts.fitness.items():
        unit = _FITNESS_UNITS.get(name, "none")
        if rule.unit != unit:
            path = ("fitness", name, "unit")
            yield Problem(path=path, found=f'"{rule.unit}"', allowed=f'"{unit}"')
        elif (rule.threshold is None) != (unit == "none"):
            found = "nothing" if rule.threshold is None else number(rule.threshold)
            allowed = "no threshold: it is so or not" if unit == "none" else f"a number ({unit})"
            yield Problem(path=("fitness", name, "threshold"), found=found, allowed=allowed)
