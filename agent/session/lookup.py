"""The address of a host in the first family, of those asked for, that gives one."""

from __future__ import annotations

from contextlib import suppress

from agent.errors import CannotMeasure
from agent.ports.names import NamesPort

FAMILIES = {"4": (4,), "6": (6,), "both": (4, 6)}
"""The address of which family is looked for first, by what was asked for."""


def first_address(
    names: NamesPort, host: str, families: tuple[int, ...], *, within_s: float
) -> str:
    """Return the first address of a host in one of `families`, which are never none.

    Each family has `within_s`. Raises what the first was refused for, where all were.
    """
    first, *others = families
    try:
        return names.resolve(host, first, within_s)[0]
    except CannotMeasure:
        for family in others:
            with suppress(CannotMeasure):
                return names.resolve(host, family, within_s)[0]
        raise
