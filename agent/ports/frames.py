"""Raw frames behind questions: which servers offer an address, or a session, on this port."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Protocol

from agent.measurements import AdvertisedProbe, LeaseProbe, PppoeProbe


@dataclass(frozen=True, slots=True, kw_only=True)
class Discover:
    """One probe: the port, its real hardware address, how long offers are heard in seconds.

    `options` are extra options of the DISCOVER (60, 61, 77, 125) with their raw values; `held` are
    the addresses of the port, of which is asked whether another station uses them. `presence` lets
    a question that cannot be granted tell a server without an address from none.
    """

    interface: str
    hardware_address: str
    listen_s: float
    options: tuple[tuple[int, bytes], ...] = ()
    held: tuple[str, ...] = ()
    presence: bool = True


@dataclass(frozen=True, slots=True, kw_only=True)
class Padi:
    """One PPPoE discovery: the port, its hardware address, how long PADOs are heard in seconds."""

    interface: str
    hardware_address: str
    listen_s: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Solicit:
    """One question to routers and DHCPv6 servers: port, hardware address, seconds to listen."""

    interface: str
    hardware_address: str
    listen_s: float


class FramePort(Protocol):
    """The privileged helper as the probe sees it."""

    def discover(self, asked: Discover) -> LeaseProbe:
        """Send one DISCOVER, take nothing, and return every offer heard.

        Raises CannotMeasure where the helper refuses, is gone or is too late.
        """
        ...

    def concentrators(self, asked: Padi) -> PppoeProbe:
        """Send a PADI, take no session, and return every PADO heard. Raises as `discover`."""
        ...

    def routers(self, asked: Solicit) -> AdvertisedProbe:
        """Ask routers and servers of IPv6, take nothing, and return all heard. Raises as above."""
        ...

    def close(self) -> None:
        """End the helper; safe to call twice."""
        ...


@dataclass(kw_only=True)
class ScriptedFrames:
    """A helper that answers a prepared probe, or raises a prepared error."""

    answer: LeaseProbe | Exception
    asked: list[Discover | Padi | Solicit] = field(default_factory=list)
    sessions: PppoeProbe | Exception = field(
        default_factory=lambda: PppoeProbe(sent=1, listened_s=3.0)
    )
    heard: AdvertisedProbe | Exception = field(
        default_factory=lambda: AdvertisedProbe(
            routers_asked=2, servers_asked=3, information_asked=3, listened_s=6.0
        )
    )
    closed: bool = False

    def discover(self, asked: Discover) -> LeaseProbe:
        """Return or raise what was prepared, and remember the question."""
        self.asked.append(asked)
        if isinstance(self.answer, Exception):
            raise self.answer
        return self.answer

    def concentrators(self, asked: Padi) -> PppoeProbe:
        """Return or raise what was prepared, and remember the question."""
        self.asked.append(asked)
        if isinstance(self.sessions, Exception):
            raise self.sessions
        return self.sessions

    def routers(self, asked: Solicit) -> AdvertisedProbe:
        """Return or raise what was prepared, and remember the question."""
        self.asked.append(asked)
        if isinstance(self.heard, Exception):
            raise self.heard
        return self.heard

    def close(self) -> None:
        """Remember that the helper was ended."""
        self.closed = True
