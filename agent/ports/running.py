"""How a running probe hears that it should stop, and says what it has used."""

from __future__ import annotations

from typing import Protocol


class Running(Protocol):
    """The session's side of a running probe."""

    def stopped(self) -> bool:
        """Return True once the probe should end and return what it has."""
        ...

    def used(self, count_bytes: int) -> None:
        """Add bytes to what the visit has moved over the line."""
        ...


class Unattended:
    """A `Running` that never stops and counts what was used; for single measurements and tests."""

    def __init__(self) -> None:
        self.bytes_used = 0

    def stopped(self) -> bool:
        """Return False."""
        return False

    def used(self, count_bytes: int) -> None:
        """Add to the count."""
        self.bytes_used += count_bytes
