"""Usual ranges of readings: in the unit of their kind, with an end, and the right way round."""

from __future__ import annotations

from collections.abc import Iterator

from agent.measurements.by_hand import FIGURES
from agent.settings.allowed import number
from agent.settings.checks.parts import Parts, Problem
from agent.settings.keys import Path
from agent.settings.usual import UsualRange, key_of

_UNITS = {key_of(kind.value): figure.unit for kind, figure in FIGURES.items()}


def usual(parts: Parts) -> Iterator[Problem]:
    """Yield usual ranges in another unit than their kind's, without an end, or reversed."""
    for access, ranges in parts.usual.items():
        for name, found in ranges:
            if isinstance(found, UsualRange):
                yield from _range(("usual", access.value, name), found)


def _range(path: Path, found: UsualRange) -> Iterator[Problem]:
    unit = _UNITS[path[-1]]
    if found.unit != unit:
        yield Problem(path=(*path, "unit"), found=f'"{found.unit}"', allowed=f'"{unit}"')
    if found.low is None and found.high is None:
        yield Problem(path=path, found="neither low nor high", allowed="one of them, or both")
    elif found.low is not None and found.high is not None and found.low > found.high:
        above = f"{number(found.low)}, above high"
        yield Problem(path=(*path, "low"), found=above, allowed=f"at most {number(found.high)}")
