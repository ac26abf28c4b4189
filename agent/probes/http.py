"""The HTTP measurement of one web target: every attempt with its phases."""

from __future__ import annotations

from urllib.parse import urljoin, urlsplit

from agent.clock import Timeline
from agent.measurements import Kind, Measurement, Reason, Role, State, WebAttempt, WebFetch
from agent.ports.http import HttpExchange, HttpPort, HttpRequest
from agent.ports.running import Running
from agent.settings.model import HttpPlan, WebTarget

METHOD = "http"
LEAST_S = 0.05
# RFC 9110 §15.4: the statuses that send a client elsewhere.
REDIRECTS = frozenset({301, 302, 303, 307, 308})
MAX_LOCATION = 300


def measure_http(
    http: HttpPort,
    target: WebTarget,
    plan: HttpPlan,
    *,
    timeline: Timeline,
    within_s: float,
    running: Running,
) -> Measurement:
    """Return every attempt to fetch a page; an attempt that fails is a result like any other.

    Phases follow W3C Resource Timing. A redirect is noted, and followed only once, from http to
    https on the same host: anything else may be a portal's doing and must not hide it.
    """
    started_s = timeline.now_s()
    deadline_s = started_s + within_s
    attempts: list[WebAttempt] = []
    family: int | None = None
    reason: Reason | None = None
    while len(attempts) < plan.attempts:
        reason = _cut(timeline, started_s, deadline_s, running)
        if reason is not None:
            break
        attempt, family = _attempt(http, target, plan, timeline, deadline_s)
        running.used(attempt.bytes or 0)
        attempts.append(attempt)
    return Measurement(
        kind=Kind.HTTP,
        role=Role.OUTSIDE,
        method=METHOD,
        family=family,
        address=attempts[-1].remote if attempts else None,
        state=_state(reason, attempts),
        reason=reason,
        started_s=started_s,
        duration_s=timeline.now_s() - started_s,
        observed=_observed(target, attempts) if attempts else None,
    )


def _cut(
    timeline: Timeline, started_s: float, deadline_s: float, running: Running
) -> Reason | None:
    if running.stopped():
        return Reason(code="stopped")
    now_s = timeline.now_s()
    if now_s >= deadline_s - LEAST_S:
        return Reason(code="time-limit", values={"after_s": now_s - started_s})
    return None


def _state(reason: Reason | None, attempts: list[WebAttempt]) -> State:
    if reason is None:
        return State.COMPLETE
    return State.PARTIAL if attempts else State.FAILED


def _observed(target: WebTarget, attempts: list[WebAttempt]) -> WebFetch:
    return WebFetch(
        target=target.name,
        url=target.url,
        marker=target.marker is not None,
        attempts=tuple(attempts),
    )


def _attempt(
    http: HttpPort, target: WebTarget, plan: HttpPlan, timeline: Timeline, deadline_s: float
) -> tuple[WebAttempt, int | None]:
    sent_s = timeline.now_s()
    until_s = min(deadline_s, sent_s + plan.waiting_s)
    exchange = _fetch(http, target.url, plan, until_s - sent_s)
    secure_url = _same_host_secure(target.url, redirect_of(exchange))
    left_s = until_s - timeline.now_s()
    if secure_url is not None and left_s > LEAST_S:
        exchange = _fetch(http, secure_url, plan, left_s)
        return _noted(exchange, sent_s, target, redirect_of(exchange) or secure_url)
    return _noted(exchange, sent_s, target, redirect_of(exchange))


def _fetch(http: HttpPort, url: str, plan: HttpPlan, within_s: float) -> HttpExchange:
    return http.fetch(HttpRequest(url=url, max_bytes=plan.max_bytes), within_s=within_s)


def redirect_of(exchange: HttpExchange) -> str | None:
    """Return where an answer sends the client, resolved against its URL; None where nowhere."""
    location = exchange.header("Location")
    if exchange.status not in REDIRECTS or location is None:
        return None
    try:
        return urljoin(exchange.url, location)[:MAX_LOCATION]
    except ValueError:
        return location[:MAX_LOCATION]


def _same_host_secure(asked: str, location: str | None) -> str | None:
    """Return a redirect that only moves the same host from http to https."""
    if location is None:
        return None
    try:
        before, after = urlsplit(asked), urlsplit(location)
        secured = before.scheme == "http" and after.scheme == "https"
        same_host = before.hostname == after.hostname
    except ValueError:
        return None
    return location if secured and same_host else None


def _noted(
    exchange: HttpExchange, sent_s: float, target: WebTarget, redirected_to: str | None
) -> tuple[WebAttempt, int | None]:
    answered = exchange.status is not None
    attempt = WebAttempt(
        sent_s=sent_s,
        lookup_ms=exchange.lookup_ms,
        connect_ms=exchange.connect_ms,
        tls_ms=exchange.tls_ms,
        first_byte_ms=exchange.first_byte_ms,
        total_ms=exchange.total_ms,
        status=exchange.status,
        bytes=len(exchange.body) if answered else None,
        remote=exchange.remote,
        redirected_to=redirected_to,
        marker_found=_marker_found(target.marker, exchange) if answered else None,
        problem=exchange.fault.code if exchange.fault else None,
        certificate=exchange.certificate,
    )
    return attempt, exchange.family


def _marker_found(marker: str | None, exchange: HttpExchange) -> bool | None:
    """Return whether the expected text came; None where none is expected or the body was cut."""
    if marker is None:
        return None
    found = marker.encode() in exchange.body
    return None if exchange.cut and not found else found
