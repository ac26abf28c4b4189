"""One order under way in the prober: its series and fetches side by side, each in a thread."""

from __future__ import annotations

import threading
from collections.abc import Callable, Sequence
from dataclasses import replace
from socket import socket
from typing import Protocol

from agent.clock import Clock, Timeline
from agent.errors import CannotMeasure, ProberFailed
from agent.measurements import (
    EchoSeries,
    Kind,
    Measurement,
    Reason,
    Role,
    State,
    WebAttempt,
)
from agent.ports.binding import Binding
from agent.ports.datagram import ProbeSocket
from agent.ports.http import HttpPort, HttpRequest
from agent.probes.delay import ICMP_ECHO, measure_delay
from agent.probes.foreign import fetch_beside
from agent.session.prober.order import Order, SeriesOrder
from agent.session.running import VisitRunning

FETCH_BYTES = 4_096
"""Of an answer that is only timed up to its first octet."""


class ProberMeans(Protocol):
    """What the prober opens."""

    def probe_socket(
        self, series: SeriesOrder, binding: Binding, raw: socket | None
    ) -> ProbeSocket:
        """Return the socket of a series; raises CannotMeasure."""
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
        opened = [self._open(one) for one in self._order.series]
        ready()
        broken = ProberFailed(problem="the series broke off")
        at_s = self._timeline.now_s()
        results = [_refused(one, broken, at_s) for one in self._order.series]

        def series(place: int, one: SeriesOrder, opening: ProbeSocket | CannotMeasure) -> None:
            results[place] = self._series(one, opening)

        pairs = enumerate(zip(self._order.series, opened, strict=True))
        threads = [threading.Thread(target=series, args=(n, *pair)) for n, pair in pairs]
        threads.append(threading.Thread(target=self._fetch))
        for thread in threads:
            thread.daemon = True
            thread.start()
        for thread in threads:
            thread.join()
        return tuple(self._with_fetches(one) for one in results)

    def _open(self, one: SeriesOrder) -> ProbeSocket | CannotMeasure:
        raw = self._raws.pop(0) if one.method == ICMP_ECHO and self._raws else None
        try:
            return self._means.probe_socket(one, self._order.binding, raw)
        except CannotMeasure as error:
            return error

    def _series(self, one: SeriesOrder, opened: ProbeSocket | CannotMeasure) -> Measurement:
        if isinstance(opened, CannotMeasure):
            return _refused(one, opened, self._timeline.now_s())
        try:
            return measure_delay(
                opened,
                self._order.plan,
                timeline=self._timeline,
                role=one.role,
                method=one.method,
                address=one.address,
                family=one.family,
                ssid=one.ssid,
                within_s=self._order.within_s,
                running=self._running,
                load=self._order.load,
                enough=self._enough.is_set,
            )
        finally:
            opened.close()

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


def _refused(one: SeriesOrder, error: CannotMeasure, at_s: float) -> Measurement:
    return Measurement(
        kind=Kind.DELAY,
        role=one.role,
        state=State.FAILED,
        method=one.method,
        started_s=at_s,
        duration_s=0.0,
        address=one.address,
        family=one.family,
        reason=Reason.of(error),
    )
