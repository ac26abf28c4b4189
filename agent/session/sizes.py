"""The search for the path MTU beside the hop walk, in a thread of its own."""

from __future__ import annotations

import logging
import threading
from contextlib import closing
from dataclasses import replace

from agent.codec.card import Card
from agent.errors import CannotMeasure, DoorstepError
from agent.measurements import HopWalk, Measurement, MtuSearch, TcpSegments
from agent.probes.mtu import STAMP, search_mtu
from agent.probes.probe_run import HEADER_BYTES
from agent.schedules.far import FarReport
from agent.session.leave import Leave, log_of
from agent.session.site import Site
from agent.session.targets import card_url, port_of_url

METHOD = "stamp-whole"
CONNECT_WITHIN_S = 1.0
JOIN_S = 10.0
"""The search ends by itself long before, whatever the far end does."""

_log = logging.getLogger("doorstep")


class SizeSearch:
    """A search that begins at once; `beside` waits for it."""

    def __init__(self, site: Site, address: str, card: Card | None) -> None:
        self._site = site
        self._address = address
        self._card = card
        self._found = self._nothing("overran")
        self._thread = threading.Thread(target=self._run, name="path-mtu", daemon=True)
        self._thread.start()

    def beside(self, walked: Measurement) -> Measurement:
        """Return the walk with what the search found."""
        self._thread.join(JOIN_S)
        if not isinstance(walked.observed, HopWalk):
            return walked
        return replace(walked, observed=replace(walked.observed, mtu=self._found))

    def _run(self) -> None:
        card = self._card
        if card is None or card.endpoints.reflector is None:
            self._found = self._nothing("no-reflector")
            return
        try:
            self._found = self._searched(card)
        except DoorstepError as error:
            self._found = self._nothing(error.code)
        except Exception:  # noqa: BLE001 - a broken search must not lose the walk
            _log.exception("the search for the path MTU broke")
            self._found = self._nothing("unexpected")

    def _searched(self, card: Card) -> MtuSearch:
        site = self._site
        # Before any large packet leaves: a refusal would teach the kernel, and TCP with it.
        tcp = self._segments()
        authenticated = site.request.plan.server_echo.authenticated
        leave = Leave.ask(site, card, authenticated=authenticated)

        def far_report() -> FarReport:
            return log_of(leave.report())

        grant, binding = leave.grant, site.ground.binding
        socket = site.workshop.probe_socket(METHOD, binding, self._address, grant.port)
        with closing(socket):
            return search_mtu(
                socket,
                ssid=grant.ssid,
                key=grant.secret,
                timeline=site.timeline,
                target=self._address,
                family=self._family,
                running=site.running,
                far_report=far_report,
                tcp=tcp,
            )

    def _segments(self) -> TcpSegments | None:
        port = port_of_url(card_url(self._site.request.server_url or ""))
        try:
            return self._site.workshop.tcp_segments(
                self._site.ground.binding, self._address, port, CONNECT_WITHIN_S
            )
        except CannotMeasure:
            return None

    @property
    def _family(self) -> int:
        return 6 if ":" in self._address else 4

    def _nothing(self, code: str) -> MtuSearch:
        return MtuSearch(
            target=self._address,
            protocol=STAMP,
            header_bytes=HEADER_BYTES[self._family],
            not_measured=code,
        )
