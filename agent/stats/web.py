"""Fetches of one web target reduced: medians of the phases, and whether it was the real page."""

from __future__ import annotations

from collections.abc import Callable
from urllib.parse import urlsplit

from agent.measurements import HttpStatistics, WebAttempt, WebFetch
from agent.stats.quantiles import median


def http_statistics(fetch: WebFetch) -> HttpStatistics:
    """Return the statistics of one target.

    An attempt counts as answered when a complete answer came that holds the expected text, where
    one is expected.
    """
    answered = [a for a in fetch.attempts if _answered(fetch, a)]
    shown = next((a.certificate for a in reversed(fetch.attempts) if a.certificate), None)
    return HttpStatistics(
        sent=len(fetch.attempts),
        answered=len(answered),
        lookup_ms=_middle(fetch, lambda a: a.lookup_ms),
        connect_ms=_middle(fetch, lambda a: a.connect_ms),
        tls_ms=_middle(fetch, lambda a: a.tls_ms),
        first_byte_ms=_middle(fetch, lambda a: a.first_byte_ms),
        total_ms=_middle(fetch, lambda a: a.total_ms),
        status=next((a.status for a in reversed(fetch.attempts) if a.status is not None), None),
        certificate_valid=shown.valid if shown else None,
        certificate_expires=shown.expires if shown else None,
        intercepted=_intercepted(fetch),
    )


def _answered(fetch: WebFetch, attempt: WebAttempt) -> bool:
    right = attempt.marker_found is True or not fetch.marker
    return attempt.problem is None and attempt.status is not None and right


def _middle(fetch: WebFetch, phase: Callable[[WebAttempt], float | None]) -> float | None:
    return median([t for a in fetch.attempts if (t := phase(a)) is not None])


def _intercepted(fetch: WebFetch) -> bool | None:
    """Tell whether someone else answered: the text is missing, or another site is shown."""
    came = [a for a in fetch.attempts if a.problem is None and a.status is not None]
    if not came:
        return None
    missing = fetch.marker and any(a.marker_found is False for a in came)
    return missing or any(_elsewhere(fetch.url, a.redirected_to) for a in came)


def _elsewhere(asked: str, shown: str | None) -> bool:
    if shown is None:
        return False
    there = urlsplit(shown).hostname
    return there is not None and _site(there) != _site(urlsplit(asked).hostname or "")


def _site(host: str) -> str:
    """Return the last two labels of a name; an address stays whole."""
    if ":" in host or host.replace(".", "").isdigit():
        return host
    return ".".join(host.split(".")[-2:])
