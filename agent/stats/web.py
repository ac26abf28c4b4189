"""Fetches of one web target reduced: medians of the phases, and whether it was the real page."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime
from urllib.parse import urlsplit

from agent.measurements import HttpStatistics, WebAttempt, WebFetch
from agent.stats.quantiles import median, median_of_known

# RFC 9110 §15.5, §15.6: from here on the answer is none.
FAILING = 400
# RFC 6585 §6: the network, not the site, wants a sign-in.
NETWORK_SIGN_IN = 511
# A Date is cut to the second (RFC 9110 §5.6.7), so its moment lies up to one later.
DATE_WIDTH_S = 1.0


def http_statistics(fetch: WebFetch) -> HttpStatistics:
    """Return the statistics of one target.

    An attempt counts as answered when the whole of the right page came: from the host that was
    asked, with the expected text where one is expected.
    """
    last = fetch.attempts[-1] if fetch.attempts else None
    shown = next((a.certificate for a in reversed(fetch.attempts) if a.certificate), None)
    ahead = _clock_ahead(fetch)
    return HttpStatistics(
        sent=len(fetch.attempts),
        answered=sum(_answered(fetch, a) for a in fetch.attempts),
        lookup_ms=_middle(fetch, lambda a: a.lookup_ms),
        connect_ms=_middle(fetch, lambda a: a.connect_ms),
        tls_ms=_middle(fetch, lambda a: a.tls_ms),
        first_byte_ms=_middle(fetch, lambda a: a.first_byte_ms),
        transfer_ms=_middle(fetch, lambda a: a.transfer_ms),
        redirect_ms=_middle(fetch, lambda a: a.redirect_ms),
        total_ms=_middle(fetch, lambda a: a.total_ms),
        status=next((a.status for a in reversed(fetch.attempts) if a.status is not None), None),
        certificate_valid=shown.valid if shown else None,
        certificate_expires=shown.expires if shown else None,
        certificate_begins=shown.begins if shown else None,
        certificate_fault=shown.fault if shown else None,
        certificate_issuer=shown.issuer if shown else None,
        intercepted=_any([_intercepted(fetch, a) for a in fetch.attempts if _came(a)]),
        host=_host(fetch.url),
        secure=urlsplit(fetch.url).scheme == "https",
        problem=last.problem if last else None,
        clock=last.clock if last else None,
        clock_ahead_s=ahead[0] if ahead else None,
        clock_unsure_s=ahead[1] if ahead else None,
        via=next((a.via for a in reversed(fetch.attempts) if a.via), None),
        portal=next((p for a in fetch.attempts if (p := _portal(fetch, a)) is not None), None),
        asks_sign_in=_any([s for a in fetch.attempts if (s := _asks(a)) is not None]),
        changed=_any([not a.unchanged for a in fetch.attempts if _right_page(fetch, a)]),
    )


def _any(told: list[bool]) -> bool | None:
    """Return whether any holds; None where nothing tells."""
    return any(told) if told else None


def _came(attempt: WebAttempt) -> bool:
    return attempt.problem is None and attempt.status is not None


def _answered(fetch: WebFetch, attempt: WebAttempt) -> bool:
    right = attempt.marker_found is True or not fetch.marker
    return _well(attempt) and right and not _intercepted(fetch, attempt)


def _well(attempt: WebAttempt) -> bool:
    return _came(attempt) and (attempt.status or 0) < FAILING


def _middle(fetch: WebFetch, phase: Callable[[WebAttempt], float | None]) -> float | None:
    return median_of_known(phase(a) for a in fetch.attempts)


def _intercepted(fetch: WebFetch, attempt: WebAttempt) -> bool:
    """Tell whether someone else answered: the text is missing, or another site is shown.

    A site that says it is unwell, without its text, is only unwell.
    """
    missing = fetch.marker and attempt.marker_found is False and _well(attempt)
    wanted = attempt.status == NETWORK_SIGN_IN
    return missing or wanted or _portal(fetch, attempt) is not None


def _portal(fetch: WebFetch, attempt: WebAttempt) -> str | None:
    """Return the host of another site that an answer led to."""
    there = _host(attempt.redirected_to or "")
    same = there is None or _site(there) == _site(_host(fetch.url) or "")
    return None if same else there


def _host(url: str) -> str | None:
    try:
        return urlsplit(url).hostname
    except ValueError:
        return None


def _site(host: str) -> str:
    """Return the last two labels of a name; an address stays whole."""
    if ":" in host or host.replace(".", "").isdigit():
        return host
    return ".".join(host.split(".")[-2:])


def _asks(attempt: WebAttempt) -> bool | None:
    return True if attempt.status == NETWORK_SIGN_IN else attempt.asks_sign_in


def _right_page(fetch: WebFetch, attempt: WebAttempt) -> bool:
    """Tell whether the page that came is the one asked for, so that its body can be compared."""
    return attempt.unchanged is not None and not _intercepted(fetch, attempt)


def _clock_ahead(fetch: WebFetch) -> tuple[float, float] | None:
    """Return the laptop's clock less the site's in seconds, and how far off that may be."""
    told = [t for a in fetch.attempts if not _intercepted(fetch, a) and (t := _ahead(a))]
    ahead_s = median([t[0] for t in told])
    return None if ahead_s is None else (ahead_s, max(t[1] for t in told))


def _ahead(attempt: WebAttempt) -> tuple[float, float] | None:
    """The site wrote its date between the asking and the answer, and cut it to the second."""
    if attempt.date is None or attempt.clock is None or attempt.total_ms is None:
        return None
    here, there = (datetime.fromisoformat(text) for text in (attempt.clock, attempt.date))
    latest_s = (here - there).total_seconds() - (attempt.age_s or 0)
    width_s = attempt.total_ms / 1000 + DATE_WIDTH_S
    return latest_s - width_s / 2, width_s / 2
