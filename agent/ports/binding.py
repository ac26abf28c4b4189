"""What every socket of the agent is tied to, so that the tested line carries the test."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class Binding:
    """The interface under test and the agent's own addresses on it.

    `interface` None leaves the choice of the way to the system (loopback runs and benches).
    """

    interface: str | None = None
    ipv4: str | None = None
    ipv6: str | None = None

    def source(self, family: int) -> str | None:
        """Return the own address of a family (4 or 6), None where there is none."""
        return self.ipv4 if family == 4 else self.ipv6
