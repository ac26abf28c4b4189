"""Small fetches beside a load, each on a connection of its own: the draft's foreign probes."""

from __future__ import annotations

import threading
from collections.abc import Callable

from agent.clock import Timeline
from agent.measurements import WebAttempt
from agent.ports.http import HttpExchange, HttpPort, HttpRequest
from agent.ports.running import Running

MOST_AT_ONCE = 8
"""Fetches under way at a time; past it one is left out, so that a dead line is not piled upon."""

FAILING = 400
"""RFC 9110 §15.5, §15.6: from here on the answer is none."""


def fetch_beside(
    http: HttpPort,
    request: HttpRequest,
    *,
    interval_s: float,
    waiting_s: float,
    timeline: Timeline,
    running: Running,
    enough: Callable[[], bool],
) -> tuple[WebAttempt, ...]:
    """Return every fetch begun on a fixed clock until `enough` says so, in order of beginning.

    None waits for another, so a slow answer does not thin them out where it matters. Each takes
    `waiting_s` at most, and so does the end.
    """
    found: list[WebAttempt] = []
    threads: list[threading.Thread] = []

    def one(sent_s: float) -> None:
        found.append(_attempt(http.fetch(request, within_s=waiting_s), sent_s, running))

    due_s = timeline.now_s()
    while not (enough() or running.stopped()):
        threads = [thread for thread in threads if thread.is_alive()]
        if len(threads) < MOST_AT_ONCE:
            threads.append(threading.Thread(target=one, args=(timeline.now_s(),), daemon=True))
            threads[-1].start()
        due_s += interval_s
        timeline.sleep(due_s - timeline.now_s())
    for thread in threads:
        thread.join(waiting_s)
    return tuple(sorted(found, key=lambda attempt: attempt.sent_s))


def _attempt(exchange: HttpExchange, sent_s: float, running: Running) -> WebAttempt:
    running.used(len(exchange.body))
    return WebAttempt(
        sent_s=sent_s,
        lookup_ms=exchange.lookup_ms,
        connect_ms=exchange.connect_ms,
        tls_ms=exchange.tls_ms,
        first_byte_ms=exchange.first_byte_ms,
        total_ms=exchange.total_ms,
        status=exchange.status,
        bytes=None if exchange.status is None else len(exchange.body),
        remote=exchange.remote,
        problem=_problem(exchange),
    )


def _problem(exchange: HttpExchange) -> str | None:
    if exchange.fault is not None:
        return exchange.fault.code
    return "bad-reply" if (exchange.status or 0) >= FAILING else None
