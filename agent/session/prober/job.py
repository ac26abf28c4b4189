"""One order under way in the prober: its series in one loop, its fetches beside them."""

from __future__ import annotations

import threading
from collections.abc import Callable, Sequence
from dataclasses import replace
from socket import socket
from typing import Protocol

from agent.clock import Clock, Timeline
from agent.measurements import EchoSeries, Measurement, Role, WebAttempt
from agent.ports.binding import Binding
from agent.ports.datagram import ProbeSocket
from agent.ports.http import HttpPort, HttpRequest
from agent.probes.foreign import fetch_beside
from agent.probes.means import ICMP_ECHO
from agent.session.prober.order import Order, SeriesOrder
from agent.session.running import VisitRunning
from agent.session.several import Aimed, Rounds, open_all
from agent.session.targets import EchoTarget

FETCH_BYTES = 4_096
"""Of an answer that is only timed up to its first octet."""


class ProberMeans(Protocol):
    """What the prober opens."""

    def probe_socket(self, target: EchoTarget, binding: Binding, raw: socket | None) -> ProbeSocket:
        """Return the socket of a series; raises CannotMeasure."""
        ...

    def wait_together(
        self, sockets: Sequence[ProbeSocket], timeout_s: float
    ) -> Sequence[ProbeSocket]:
        """Wait on probe sockets; see `WaitTogether`."""
        ...

    def http(self, binding: Binding, address: str) -> HttpPort:
        """Return an HTTP port on which every name is that address."""
        ...


class Job:
    """Runs one order from `run` until `end`; `bytes_used` is what it moved."""

    def __init__(
        self, order: Order, means: ProberMeans, clock: Clock, raws: Sequence[socket] = ()
    ) -> None:
        self._order = order
        self._means = means
        self._timeline = Timeline(clock, order.origin_s)
        self._running = VisitRunning()
        self._enough = threading.Event()
        self._raws = list(raws)
        self._fetches: tuple[WebAttempt, ...] | None = None

    @property
    def bytes_used(self) -> int:
        """Bytes moved so far."""
        return self._running.bytes_used

    def end(self) -> None:
        """Send nothing more; what is under way is waited for."""
        self._enough.set()

    def run(self, ready: Callable[[], None]) -> tuple[Measurement, ...]:
        """Return one measurement per series; `ready` is called when all sockets are open."""
        opened = open_all([self._aimed(one) for one in self._order.series], self._open)
        ready()
        fetching = threading.Thread(target=self._fetch, daemon=True)
        fetching.start()
        rounds = Rounds(
            opener=self._open,
            wait=self._means.wait_together,
            timeline=self._timeline,
            running=self._running,
            enough=self._enough.is_set,
        )
        results = rounds.run(opened, self._order.within_s)
        fetching.join()
        return tuple(self._with_fetches(one) for one in results)

    def _aimed(self, one: SeriesOrder) -> Aimed:
        target = EchoTarget(
            role=one.role,
            address=one.address,
            method=one.method,
            port=one.port,
            ssid=one.ssid,
            connect_port=one.connect_port,
            key=None if one.key is None else bytes.fromhex(one.key),
        )
        return Aimed(target=target, plan=self._order.plan, load=self._order.load)

    def _open(self, target: EchoTarget) -> ProbeSocket:
        raw = self._raws.pop(0) if target.method == ICMP_ECHO and self._raws else None
        return self._means.probe_socket(target, self._order.binding, raw)

    def _fetch(self) -> None:
        wanted = self._order.fetch
        if wanted is None:
            return
        ends_s = self._timeline.now_s() + self._order.within_s
        self._fetches = fetch_beside(
            self._means.http(self._order.binding, wanted.address),
            HttpRequest(url=wanted.url, token=wanted.token, max_bytes=FETCH_BYTES),
            interval_s=wanted.interval_s,
            waiting_s=wanted.waiting_s,
            timeline=self._timeline,
            running=self._running,
            enough=lambda: self._enough.is_set() or self._timeline.now_s() >= ends_s,
        )

    def _with_fetches(self, one: Measurement) -> Measurement:
        if one.role is not Role.SERVER or not isinstance(one.observed, EchoSeries):
            return one
        return replace(one, observed=replace(one.observed, foreign=self._fetches))
