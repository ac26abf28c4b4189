"""A time server asked beside what hardly loads the line: one question, and its answer awaited."""

from __future__ import annotations

import logging
import secrets
import threading

from agent.codec.ntp import PORT
from agent.errors import DoorstepError
from agent.measurements import ClockExchange, Reason
from agent.probes.clock_offset import METHOD, ask_time
from agent.session.lookup import FAMILIES, first_address
from agent.session.site import Site

WITHIN_S = 1.0
LOOKUP_WITHIN_S = 2.0
NONCE_BITS = 64

_log = logging.getLogger("doorstep")


class ClockAsked:
    """The question to the first time server of the settings, else to the operator's server."""

    def __init__(self, site: Site, server: str | None) -> None:
        self._site = site
        self._host = next(iter(site.request.settings.targets.time_servers), server)
        self._told: ClockExchange | None = None
        self._thread = threading.Thread(target=self._ask, name="clock", daemon=True)
        self._thread.start()

    def told(self) -> ClockExchange | None:
        """Return the answer, or why there is none; None where nobody could be asked."""
        self._thread.join(WITHIN_S + LOOKUP_WITHIN_S)
        return self._told

    def _ask(self) -> None:
        if self._host is None:
            return
        try:
            self._told = self._exchange(self._host)
        except DoorstepError as error:
            self._told = ClockExchange(server=self._host, reason=Reason.of(error))
        except Exception:  # noqa: BLE001 - a broken question must not lose the visit
            _log.exception("asking the time broke")
            self._told = ClockExchange(server=self._host, reason=Reason(code="unexpected"))

    def _exchange(self, host: str) -> ClockExchange:
        site = self._site
        families = FAMILIES[site.request.family]
        address = first_address(site.names, host, families, within_s=LOOKUP_WITHIN_S)
        asked = site.workshop.probe_socket(METHOD, site.ground.binding, address, PORT)
        try:
            nonce = secrets.randbits(NONCE_BITS)
            return ask_time(asked, host, nonce, site.timeline.clock, within_s=WITHIN_S)
        finally:
            asked.close()
