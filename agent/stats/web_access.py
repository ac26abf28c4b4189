"""How the network and the laptop let programs out to the web, reduced."""

from __future__ import annotations

from urllib.parse import urlsplit

from agent.measurements import WebAccess, WebAccessStatistics


def web_access_statistics(access: WebAccess) -> WebAccessStatistics:
    """Return the proxies' places and the state of the captive portal (RFC 8908 §5)."""
    proxies = tuple(dict.fromkeys(one.address for one in access.proxies))
    told = access.portal
    if told is None:
        return WebAccessStatistics(proxies=proxies)
    return WebAccessStatistics(
        proxies=proxies,
        captive=told.captive,
        portal=_host(told.user_portal_url),
        told_by=told.told_by,
        problem=told.problem,
        seconds_remaining=told.seconds_remaining,
        bytes_remaining=told.bytes_remaining,
        total_ms=told.total_ms,
    )


def _host(url: str | None) -> str | None:
    try:
        return urlsplit(url).hostname if url else None
    except ValueError:
        return None
