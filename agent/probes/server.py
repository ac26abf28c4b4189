"""Asking the operator's server: its card, leave to use the reflector, what the reflector saw."""

from __future__ import annotations

import secrets
from urllib.parse import urlencode, urljoin, urlsplit

from agent.codec.card import (
    Card,
    ReflectorGrant,
    ReflectorReport,
    UploadReceipt,
    parse_card,
    parse_grant,
    parse_receipt,
    parse_refusal,
    parse_report,
)
from agent.codec.document import MAX_BYTES
from agent.errors import BadReply, MalformedMessage, ServerBusy
from agent.measurements import Direction
from agent.ports.http import HttpExchange, HttpPort, HttpRequest

DEFAULT_WAIT_S = 10.0
# Run ids only tell apart what one server keeps for minutes: 64 bits are plenty.
RUN_BYTES = 8


def read_card(
    http: HttpPort,
    url: str,
    token: str | None,
    within_s: float,
    rate_bps: int | None = None,
) -> Card:
    """Return the server's card; `rate_bps` tells it the most that this line can use.

    Raises CannotMeasure where the server cannot be reached, refuses or is busy, MalformedMessage
    where what it sends is no card.
    """
    return parse_card(_ask(http, "GET", with_rate(url, rate_bps), token, within_s))


def with_rate(url: str, rate_bps: int | None) -> str:
    """Return a URL of the server with what this line can use, so that it can plan for it."""
    return url if rate_bps is None else endpoint(url, "", rate=rate_bps)


def transfer_urls(card_url: str, card: Card, rate_bps: int | None = None) -> dict[Direction, str]:
    """Return where to transfer: the longest download allowed, uploads under one new run id."""
    ends, run = card.endpoints, secrets.token_hex(RUN_BYTES)
    down = endpoint(card_url, ends.download, bytes=card.limits.bytes)
    up = endpoint(card_url, ends.upload, run=run)
    return {Direction.DOWN: with_rate(down, rate_bps), Direction.UP: with_rate(up, rate_bps)}


def open_reflector(
    http: HttpPort,
    card_url: str,
    card: Card,
    token: str | None,
    *,
    within_s: float,
    authenticated: bool = False,
) -> ReflectorGrant:
    """Return leave to send STAMP packets; raises as `read_card`, BadReply without a reflector.

    Where `authenticated` mode is asked for, a server that knows no other grants the plain one: the
    grant then has no key.
    """
    url = _reflector(card_url, card)
    if authenticated:
        url = endpoint(url, "", mode="authenticated")
    return parse_grant(_ask(http, "POST", url, token, within_s))


def reflector_report(
    http: HttpPort,
    card_url: str,
    card: Card,
    grant: ReflectorGrant,
    token: str | None,
    *,
    within_s: float,
) -> ReflectorReport:
    """Return what reached the reflector under a grant; raises as `read_card`."""
    url = endpoint(_reflector(card_url, card), "", session=grant.session)
    return parse_report(_ask(http, "GET", url, token, within_s))


def upload_receipt(
    http: HttpPort, card_url: str, card: Card, run: str, token: str | None, *, within_s: float
) -> UploadReceipt | None:
    """Return what the server counted in a run, None where it keeps no receipts."""
    if card.endpoints.receipts is None:
        return None
    url = endpoint(card_url, card.endpoints.receipts, run=run)
    return parse_receipt(_ask(http, "GET", url, token, within_s))


def endpoint(base: str, place: str, **query: object) -> str:
    """Return the URL of a place on the card (path or absolute), with a query added.

    Raises BadReply for a place that makes no URL.
    """
    try:
        url = urljoin(base, place) if place else base
        mark = "&" if urlsplit(url).query else "?"
    except ValueError as error:
        raise BadReply(address=base, problem=f"its card names {place}, no URL") from error
    return f"{url}{mark}{urlencode(query)}" if query else url


def _reflector(card_url: str, card: Card) -> str:
    if card.endpoints.reflector is None:
        raise BadReply(address=card_url, problem="its card names no reflector")
    return endpoint(card_url, card.endpoints.reflector)


def _ask(http: HttpPort, method: str, url: str, token: str | None, within_s: float) -> bytes:
    request = HttpRequest(url=url, method=method, token=token, max_bytes=MAX_BYTES)
    exchange = http.fetch(request, within_s=within_s).checked()
    _refuse(exchange)
    return exchange.body


def _refuse(exchange: HttpExchange) -> None:
    status = exchange.status or 0
    if 200 <= status < 300:
        return
    code, wait_s = _told(exchange)
    if status == 503:
        raise ServerBusy(address=exchange.url, wait_s=wait_s)
    problem = f"HTTP status {status}" + (f" ({code})" if code else "")
    raise BadReply(address=exchange.url, problem=problem)


def _told(exchange: HttpExchange) -> tuple[str | None, float]:
    """Return the refusal's code and how long to wait, from its body or its Retry-After field."""
    try:
        refusal = parse_refusal(exchange.body)
    except MalformedMessage:
        text = exchange.header("Retry-After") or ""
        plain = text.isascii() and text.isdigit() and len(text) < 6
        return None, float(text) if plain else DEFAULT_WAIT_S
    return refusal.code, DEFAULT_WAIT_S if refusal.wait_s is None else refusal.wait_s
