"""The operator's server as a visit meets it: its card before and after, its address, its URLs."""

from __future__ import annotations

import logging
from collections.abc import Mapping

from agent.codec.card import Card
from agent.errors import CannotMeasure, DoorstepError, ServerBusy
from agent.measurements import Direction, Reason
from agent.probes.server import read_card, transfer_urls
from agent.record.model import ServerFacts
from agent.session.lookup import FAMILIES, first_address
from agent.session.request import VisitRequest
from agent.session.site import Site
from agent.session.steps import Conductor, busy_s
from agent.session.targets import server_host

CARD_WITHIN_S = 5.0
CARD_AFTER_WITHIN_S = 2.0
LOOKUP_WITHIN_S = 4.0

_log = logging.getLogger("doorstep")


class FarServer:
    """What is known of the server; `error` says why there is no card or address."""

    def __init__(self, request: VisitRequest, conductor: Conductor) -> None:
        self._request = request
        self._conductor = conductor
        self.card: Card | None = None
        self.address: str | None = None
        self.error: DoorstepError | None = None
        self._after: Mapping[str, object] = {}

    def meet(self, site: Site) -> None:
        """Read the card, waiting where the server asks for it, and look the address up."""
        if self._request.server_url is not None:
            try:
                self.card = self._card(site, self._request.server_url)
            except DoorstepError as error:
                _log.info("no card: %s", error)
                self.error = error
        self.address = self._looked_up(site)

    def look_again(self, site: Site) -> None:
        """Read the card once more, after the transfers: what the server was busy with."""
        url = self._request.server_url
        if self.card is None or url is None or site.running.stopped():
            return
        try:
            again = read_card(
                site.http,
                url,
                self._request.token,
                within_s=CARD_AFTER_WITHIN_S,
                rate_bps=self.rate_bps,
            )
        except DoorstepError as error:
            _log.info("no card afterwards: %s", error)
            return
        self._after = again.to_document()

    @property
    def rate_bps(self) -> int | None:
        """The most this line is sold to carry, None without a tier."""
        tier = self._request.tier
        return max(tier.down_bps, tier.up_bps) if tier else None

    def reason(self) -> Reason:
        """Return why there is no server."""
        return Reason(code="no-server") if self.error is None else Reason.of(self.error)

    def urls(self) -> dict[Direction, str]:
        """Return where to transfer, under a new run id."""
        url = self._request.server_url
        if self.card is not None and url is not None:
            return transfer_urls(url, self.card, rate_bps=self.rate_bps)
        server = self._request.settings.server
        plain = {Direction.DOWN: server.download, Direction.UP: server.upload}
        return {direction: url for direction, url in plain.items() if url is not None}

    def facts(self) -> ServerFacts | None:
        """Return what the record keeps of the server."""
        url = self._request.server_url
        if url is None:
            return None
        waited_s = self._conductor.waited_s
        if self.card is None:
            return ServerFacts(url=url, waited_s=waited_s, card_fault=self.reason().code)
        return ServerFacts(
            id=self.card.server_id,
            software=self.card.software,
            url=url,
            seen_address=self.card.seen.address,
            card=self.card.to_document(),
            card_after=self._after,
            waited_s=waited_s,
        )

    def _card(self, site: Site, url: str) -> Card:
        while True:
            try:
                return read_card(
                    site.http,
                    url,
                    self._request.token,
                    within_s=CARD_WITHIN_S,
                    rate_bps=self.rate_bps,
                )
            except ServerBusy as busy:
                if not self._conductor.wait_for_server(busy_s(Reason.of(busy)) or 0.0):
                    raise ServerBusy(**busy.fields, waited_s=self._conductor.waited_s) from busy

    def _looked_up(self, site: Site) -> str | None:
        host = server_host(self._request.server_url, self._request.settings.server)
        if host is None:
            return None
        families = FAMILIES[self._request.family]
        try:
            return first_address(site.names, host, families, within_s=LOOKUP_WITHIN_S)
        except CannotMeasure as refused:
            self.error = self.error or refused
            return None
