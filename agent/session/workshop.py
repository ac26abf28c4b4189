"""The means a visit works with: facts, names, HTTP, bulk streams, probe sockets, frames."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Protocol

from agent.measurements import Measurement, TcpSegments
from agent.ports.binding import Binding
from agent.ports.datagram import ProbeSocket
from agent.ports.facts import FactsPort
from agent.ports.frames import FramePort
from agent.ports.http import HttpPort
from agent.ports.names import AskingPort, NamesPort
from agent.ports.reach import ReachPort
from agent.ports.stream import StreamPort
from agent.session.prober.order import Order


class SeriesBeside(Protocol):
    """Series under way in the prober."""

    def end(self) -> None:
        """Send no more probes; raises ProberFailed."""
        ...

    def results(self) -> tuple[tuple[Measurement, ...], int]:
        """Return the measurements and the bytes they moved, after `end`; raises ProberFailed."""
        ...


class Prober(Protocol):
    """The process that times the loaded line."""

    def begin(self, order: Order) -> SeriesBeside:
        """Begin series and return once their sockets are open; raises ProberFailed."""
        ...

    def close(self) -> None:
        """End the process; closing twice is harmless."""
        ...


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

    def encrypted_names(
        self, binding: Binding, names: NamesPort, port: int | None, path: str
    ) -> AskingPort:
        """Return queries over TLS and HTTPS; `names` finds the resolvers' own addresses."""
        ...

    def http(self, binding: Binding, names: NamesPort) -> HttpPort:
        """Return the HTTP port."""
        ...

    def streams(self, binding: Binding, names: NamesPort) -> StreamPort:
        """Return the bulk streams."""
        ...

    def probe_socket(self, method: str, binding: Binding, address: str, port: int) -> ProbeSocket:
        """Return a socket for STAMP, a means of echo, or "udp-path"; raises CannotMeasure."""
        ...

    def wait_together(
        self, sockets: Sequence[ProbeSocket], timeout_s: float
    ) -> Sequence[ProbeSocket]:
        """Wait on probe sockets; see `WaitTogether`."""
        ...

    def reach(self, binding: Binding) -> ReachPort:
        """Return single attempts on ports."""
        ...

    def tcp_segments(
        self, binding: Binding, address: str, port: int, within_s: float
    ) -> TcpSegments | None:
        """Return what TCP agrees on with a listener, None where the system tells nothing.

        Raises CannotMeasure where no connection is made.
        """
        ...

    def prober(self) -> Prober:
        """Start the process that times the loaded line; raises ProberFailed."""
        ...
