"""From one answer to what is kept of it: phases, dates, who relayed it, whose page it was."""

from __future__ import annotations

import re
from dataclasses import dataclass
from datetime import UTC, datetime
from hashlib import sha256
from urllib.parse import urljoin, urlsplit

from agent.codec.http_date import read_http_date
from agent.codec.page_marks import PageMarks, read_page_marks
from agent.errors import printable
from agent.measurements import WebAttempt
from agent.ports.http import HttpExchange
from agent.settings.model import WebTarget

# RFC 9110 §15.4: the statuses that send a client elsewhere.
REDIRECTS = frozenset({301, 302, 303, 307, 308})
# RFC 6585 §6: the network, not the site, wants a sign-in.
NETWORK_SIGN_IN = 511
OK = 200
MAX_LOCATION = 300
MAX_VIA = 120
# RFC 9111 §1.2.2: delta-seconds beyond 2^31 mean just that.
MOST_AGE_S = 2**31


@dataclass(frozen=True, slots=True, kw_only=True)
class Seen:
    """One attempt's last exchange and what went around it.

    `redirected_to` is a redirect within the same host that was followed; `portal` the page of
    another host that an answer led to, where it was looked at. `clock` is the laptop's wall time
    when the answer had come.
    """

    exchange: HttpExchange
    sent_s: float
    clock: datetime
    redirected_to: str | None = None
    redirect_ms: float | None = None
    portal: HttpExchange | None = None


def noted(seen: Seen, target: WebTarget) -> WebAttempt:
    """Return the entry of one attempt."""
    exchange = seen.exchange
    answered = exchange.status is not None
    found = marker_found(target.marker, exchange) if answered else None
    marks = _marks(seen, found)
    return WebAttempt(
        sent_s=seen.sent_s,
        lookup_ms=exchange.lookup_ms,
        connect_ms=exchange.connect_ms,
        tls_ms=exchange.tls_ms,
        first_byte_ms=exchange.first_byte_ms,
        transfer_ms=exchange.transfer_ms,
        redirect_ms=seen.redirect_ms,
        total_ms=_whole(exchange.total_ms, seen.redirect_ms),
        status=exchange.status,
        bytes=len(exchange.body) if answered else None,
        remote=exchange.remote,
        redirected_to=bare(leads_to(exchange, found) or seen.redirected_to),
        marker_found=found,
        unchanged=_unchanged(target.sha256, exchange),
        problem=exchange.fault.code if exchange.fault else None,
        certificate=exchange.certificate,
        date=_date(exchange, seen.clock),
        age_s=_age_s(exchange),
        clock=_moment(seen.clock) if answered or exchange.certificate else None,
        via=_via(exchange),
        title=marks.title if marks else None,
        asks_sign_in=marks.asks_sign_in if marks else None,
    )


def redirect_of(exchange: HttpExchange) -> str | None:
    """Return where an answer sends the client, resolved against its URL; None where nowhere."""
    location = exchange.header("Location")
    if exchange.status not in REDIRECTS or location is None:
        return None
    return _joined(exchange.url, location)


def leads_to(exchange: HttpExchange, found: bool | None) -> str | None:
    """Return where an answer leads, by a redirect or by the refresh of a page not expected."""
    to = redirect_of(exchange)
    if to is not None or found is not False:
        return to
    refresh = read_page_marks(exchange.body).refresh
    return None if refresh is None else _joined(exchange.url, refresh)


def bare(url: str | None) -> str | None:
    """Return a URL without its query and fragment: portals put hardware addresses there."""
    return None if url is None else re.split(r"[?#]", url, maxsplit=1)[0]


def elsewhere(asked: str, shown: str | None) -> bool:
    """Tell whether a URL is of another host than the one asked."""
    there, here = host_of(shown or ""), host_of(asked)
    return there is not None and there != here


def host_of(url: str) -> str | None:
    """Return the host of a URL, None where it has none or cannot be read."""
    try:
        return urlsplit(url).hostname
    except ValueError:
        return None


def marker_found(marker: str | None, exchange: HttpExchange) -> bool | None:
    """Return whether the expected text came; None where none is expected or the body was cut."""
    if marker is None:
        return None
    found = marker.encode() in exchange.body
    return None if exchange.cut and not found else found


def _joined(base: str, to: str) -> str:
    try:
        return urljoin(base, to)[:MAX_LOCATION]
    except ValueError:
        return to[:MAX_LOCATION]


def _marks(seen: Seen, found: bool | None) -> PageMarks | None:
    """Return the marks of a page that is not the one expected, the portal's own where seen."""
    if seen.portal is not None:
        return read_page_marks(seen.portal.body)
    foreign = found is False or seen.exchange.status == NETWORK_SIGN_IN
    return read_page_marks(seen.exchange.body) if foreign else None


def _unchanged(expected: str | None, exchange: HttpExchange) -> bool | None:
    """Return whether the body is the very one expected; None where no whole page came."""
    if expected is None or exchange.status != OK or exchange.fault is not None:
        return None
    return not exchange.cut and sha256(exchange.body).hexdigest() == expected


def _whole(total_ms: float | None, redirect_ms: float | None) -> float | None:
    """Return what the attempt took, redirect and page (W3C: the whole lasts to responseEnd)."""
    return None if total_ms is None else total_ms + (redirect_ms or 0.0)


def _date(exchange: HttpExchange, clock: datetime) -> str | None:
    told = read_http_date(exchange.header("Date") or "", clock.year)
    return None if told is None else _moment(told)


def _age_s(exchange: HttpExchange) -> int | None:
    told = (exchange.header("Age") or "").strip()
    return min(int(told), MOST_AGE_S) if _is_whole(told) else None


def _is_whole(text: str) -> bool:
    """Tell whether a text is a whole number in ASCII of a length worth reading."""
    return text.isascii() and text.isdigit() and len(text) <= 12


def _via(exchange: HttpExchange) -> str | None:
    told = exchange.header("Via")
    return None if told is None or not told.strip() else printable(told.strip())[:MAX_VIA]


def _moment(at: datetime) -> str:
    return at.astimezone(UTC).isoformat(timespec="milliseconds").replace("+00:00", "Z")
