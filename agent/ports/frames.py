"""Raw frames behind one question: which servers offer an address on this port."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Protocol

from agent.measurements import LeaseProbe


@dataclass(frozen=True, slots=True, kw_only=True)
class Discover:
    """One probe: the port, its real hardware address, how long offers are heard in seconds.

    `options` are extra options of the DISCOVER (60, 61, 77, 125) with their raw values.
    """

    interface: str
    hardware_address: str
    listen_s: float
    options: tuple[tuple[int, bytes], ...] = ()


class FramePort(Protocol):
    """The privileged helper as the probe sees it."""

    def discover(self, asked: Discover) -> LeaseProbe:
        """Send one DISCOVER, take nothing, and return every offer heard.

        Raises CannotMeasure where the helper refuses, is gone or is too late.
        """
        ...

    def close(self) -> None:
        """End the helper; safe to call twice."""
        ...


@dataclass(kw_only=True)
class ScriptedFrames:
    """A helper that answers a prepared probe, or raises a prepared error."""

    answer: LeaseProbe | Exception
    asked: list[Discover] = field(default_factory=list)
    closed: bool = False

    def discover(self, asked: Discover) -> LeaseProbe:
        """Return or raise what was prepared, and remember the question."""
        self.asked.append(asked)
        if isinstance(self.answer, Exception):
            raise self.answer
        return self.answer

    def close(self) -> None:
        """Remember that the helper was ended."""
        self.closed = True
