"""The HTTP measurement of one web target: every attempt with its phases."""

from __future__ import annotations

from urllib.parse import urlsplit

from agent.clock import Timeline
from agent.measurements import Kind, Measurement, Reason, Role, State, WebAttempt, WebFetch
from agent.ports.http import HttpExchange, HttpPort, HttpRequest
from agent.ports.running import Running
from agent.probes.page_seen import Seen, elsewhere, leads_to, marker_found, noted, redirect_of
from agent.settings.model import HttpPlan, WebTarget

METHOD = "http"
LEAST_S = 0.05
# What a sign-in page may need to be known by; the rest is never fetched.
PORTAL_BYTES = 65_536


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
    https on the same host: anything else may be a portal's doing and must not hide it. The page of
    another host that the first attempt led to is looked at once, for what it asks of its reader.
    """
    return _Fetching(http, target, plan, timeline, running).measured(within_s)


class _Fetching:
    """The attempts on one target."""

    def __init__(
        self,
        http: HttpPort,
        target: WebTarget,
        plan: HttpPlan,
        timeline: Timeline,
        running: Running,
    ) -> None:
        self._http = http
        self._target = target
        self._plan = plan
        self._timeline = timeline
        self._running = running
        self._family: int | None = None
        self._portal_seen = False

    def measured(self, within_s: float) -> Measurement:
        started_s = self._timeline.now_s()
        deadline_s = started_s + within_s
        attempts: list[WebAttempt] = []
        reason: Reason | None = None
        while len(attempts) < self._plan.attempts:
            reason = self._cut(started_s, deadline_s)
            if reason is not None:
                break
            attempts.append(self._attempt(deadline_s))
        return Measurement(
            kind=Kind.HTTP,
            role=Role.OUTSIDE,
            method=METHOD,
            family=self._family,
            address=attempts[-1].remote if attempts else None,
            state=_state(reason, attempts),
            reason=reason,
            started_s=started_s,
            duration_s=self._timeline.now_s() - started_s,
            observed=_observed(self._target, attempts) if attempts else None,
        )

    def _cut(self, started_s: float, deadline_s: float) -> Reason | None:
        if self._running.stopped():
            return Reason(code="stopped")
        now_s = self._timeline.now_s()
        if now_s >= deadline_s - LEAST_S:
            return Reason(code="time-limit", values={"after_s": now_s - started_s})
        return None

    def _attempt(self, deadline_s: float) -> WebAttempt:
        sent_s = self._timeline.now_s()
        until_s = min(deadline_s, sent_s + self._plan.waiting_s)
        exchange = self._fetch(self._target.url, until_s, self._plan.max_bytes)
        secure_url = _same_host_secure(self._target.url, redirect_of(exchange))
        redirect_ms: float | None = None
        if secure_url is not None and self._left_s(until_s) > LEAST_S:
            redirect_ms = exchange.total_ms
            exchange = self._fetch(secure_url, until_s, self._plan.max_bytes)
        clock = self._timeline.clock.wall()
        self._family = exchange.family
        seen = Seen(
            exchange=exchange,
            sent_s=sent_s,
            clock=clock,
            redirected_to=secure_url,
            redirect_ms=redirect_ms,
            portal=self._portal(exchange, until_s),
        )
        return noted(seen, self._target)

    def _portal(self, exchange: HttpExchange, until_s: float) -> HttpExchange | None:
        """Return the page of another host that an answer led to, the first time one does."""
        to = leads_to(exchange, marker_found(self._target.marker, exchange))
        late = self._left_s(until_s) <= LEAST_S
        if to is None or late or self._portal_seen or not elsewhere(self._target.url, to):
            return None
        self._portal_seen = True
        page = self._fetch(to, until_s, PORTAL_BYTES)
        return page if page.status is not None else None

    def _fetch(self, url: str, until_s: float, max_bytes: int) -> HttpExchange:
        request = HttpRequest(url=url, max_bytes=max_bytes)
        exchange = self._http.fetch(request, within_s=self._left_s(until_s))
        self._running.used(len(exchange.body))
        return exchange

    def _left_s(self, until_s: float) -> float:
        return until_s - self._timeline.now_s()


def _state(reason: Reason | None, attempts: list[WebAttempt]) -> State:
    if reason is None:
        return State.COMPLETE
    return State.PARTIAL if attempts else State.FAILED


def _observed(target: WebTarget, attempts: list[WebAttempt]) -> WebFetch:
    return WebFetch(
        target=target.name,
        url=target.url,
        marker=target.marker is not None,
        fixed=target.sha256 is not None,
        attempts=tuple(attempts),
    )


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
