"""Several probe sockets as one: each a flow of its own, their datagrams numbered in one row."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from agent.ports.datagram import Event, ProbeSocket, Sent, WaitTogether


class FlowSockets:
    """A `ProbeSocket` over several; `flow` says through which the next datagram leaves."""

    def __init__(self, sockets: Sequence[ProbeSocket], wait: WaitTogether) -> None:
        self._sockets = tuple(sockets)
        self._wait = wait
        self._indexes: tuple[list[int], ...] = tuple([] for _ in self._sockets)
        self._count = 0
        self.flow = 0

    @property
    def clock_steps(self) -> int:
        """Return how often the wall clock stepped, as the socket that saw most of it tells."""
        return max(socket.clock_steps for socket in self._sockets)

    def send(self, payload: bytes, hop_limit: int | None = None) -> int:
        """Send one datagram through the chosen flow; raises CannotMeasure."""
        self._sockets[self.flow].send(payload, hop_limit)
        index = self._count
        self._indexes[self.flow].append(index)
        self._count += 1
        return index

    def poll(self, timeout_s: float) -> tuple[Event, ...]:
        """Return what happened on any of the sockets."""
        ready = self._wait(self._sockets, timeout_s)
        return tuple(
            self._renumbered(event, self._indexes[self._sockets.index(socket)])
            for socket in ready
            for event in socket.poll(0.0)
        )

    def close(self) -> None:
        """Give all sockets back."""
        for socket in self._sockets:
            socket.close()

    def _renumbered(self, event: Event, indexes: list[int]) -> Event:
        return replace(event, index=indexes[event.index]) if isinstance(event, Sent) else event
