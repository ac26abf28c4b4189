"""How the network and the laptop let programs out to the web: captive portal API and proxies."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from agent.clock import Timeline
from agent.codec import captive
from agent.errors import MalformedMessage
from agent.measurements import (
    Kind,
    Measurement,
    PortalAnswer,
    ProxySetting,
    Reason,
    Role,
    State,
    WebAccess,
)
from agent.ports.http import HttpExchange, HttpPort, HttpRequest
from agent.ports.running import Running
from agent.probes.page_seen import MAX_LOCATION, bare

METHOD = "captive-portal-api"
OK = 200
WRONG_TYPE, NOT_SECURE = "wrong-type", "not-secure"


@dataclass(frozen=True, slots=True, kw_only=True)
class NamedApi:
    """A captive portal API's URL and who named it: "settings", "dhcp" or "router"."""

    url: str
    told_by: str


def measure_web_access(
    http: HttpPort,
    api: NamedApi | None,
    proxies: Sequence[ProxySetting],
    *,
    timeline: Timeline,
    within_s: float,
    running: Running,
) -> Measurement:
    """Return what the captive portal API says (RFC 8908), where one is known, and the proxies.

    An API that fails is a result like any other.
    """
    started_s = timeline.now_s()
    reason = Reason(code="stopped") if running.stopped() else None
    portal = None if api is None or reason else ask_portal(http, api, within_s, running)
    return Measurement(
        kind=Kind.HTTP,
        role=Role.LOCAL,
        method=METHOD,
        state=State.COMPLETE if reason is None else State.PARTIAL,
        reason=reason,
        started_s=started_s,
        duration_s=timeline.now_s() - started_s,
        observed=WebAccess(proxies=tuple(proxies), portal=portal),
    )


def ask_portal(http: HttpPort, api: NamedApi, within_s: float, running: Running) -> PortalAnswer:
    """Return the API's answer; only over TLS (RFC 8908 §4), and not where there is no portal."""
    unasked = PortalAnswer(url=bare(api.url[:MAX_LOCATION]) or "", told_by=api.told_by)
    if api.url == captive.UNRESTRICTED:
        return replace(unasked, captive=False)
    if not api.url.lower().startswith("https://"):
        return replace(unasked, problem=NOT_SECURE)
    request = HttpRequest(url=api.url, max_bytes=captive.MAX_BYTES, accept=captive.MEDIA_TYPE)
    exchange = http.fetch(request, within_s=within_s)
    running.used(len(exchange.body))
    return _told(unasked, exchange)


def _told(unasked: PortalAnswer, exchange: HttpExchange) -> PortalAnswer:
    met = replace(
        unasked,
        status=exchange.status,
        total_ms=exchange.total_ms,
        certificate=exchange.certificate,
    )
    if exchange.fault is not None:
        return replace(met, problem=exchange.fault.code)
    right = captive.is_captive_type(exchange.header("Content-Type"))
    if exchange.status != OK or not right:
        return replace(met, problem=WRONG_TYPE)
    try:
        state = captive.parse_portal_state(exchange.body)
    except MalformedMessage as error:
        return replace(met, problem=error.code)
    return replace(
        met,
        captive=state.captive,
        user_portal_url=bare(state.user_portal_url),
        venue_info_url=bare(state.venue_info_url),
        can_extend_session=state.can_extend_session,
        seconds_remaining=state.seconds_remaining,
        bytes_remaining=state.bytes_remaining,
    )
