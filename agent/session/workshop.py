"""The means a visit works with: facts, names, HTTP, bulk streams, probe sockets, frames."""

from __future__ import annotations

from typing import Protocol

from agent.ports.binding import Binding
from agent.ports.datagram import ProbeSocket
from agent.ports.facts import FactsPort
from agent.ports.frames import FramePort
from agent.ports.http import HttpPort
from agent.ports.names import NamesPort
from agent.ports.stream import StreamPort


class Workshop(Protocol):
    """Makes every port a visit needs, all tied to the interface under test."""

    @property
    def facts(self) -> FactsPort:
        """The computer's own facts."""
        ...

    @property
    def frames(self) -> FramePort | None:
        """The privileged helper, None where there is none."""
        ...

    @property
    def frames_reason(self) -> str | None:
        """Why there is no helper, as a reason code."""
        ...

    def names(self, binding: Binding, resolvers: tuple[str, ...]) -> NamesPort:
        """Return the names port over the given resolvers."""
        ...

    def http(self, binding: Binding, names: NamesPort) -> HttpPort:
        """Return the HTTP port."""
        ...

    def streams(self, binding: Binding, names: NamesPort) -> StreamPort:
        """Return the bulk streams."""
        ...

    def probe_socket(self, method: str, binding: Binding, address: str, port: int) -> ProbeSocket:
        """Return a socket for "stamp", "icmp-echo" or "udp-path" probes; raises CannotMeasure."""
        ...
