"""Fetches beside a load: a fixed clock, none waiting for another, failures kept."""

import threading

import pytest

from agent.clock import ManualClock, Timeline
from agent.errors import TimedOut
from agent.ports.http import HttpExchange, HttpRequest, ScriptedHttp
from agent.ports.running import Unattended
from agent.probes.foreign import MOST_AT_ONCE, fetch_beside

REQUEST = HttpRequest(url="http://203.0.113.9:8642/card", token="secret", max_bytes=4096)


def fetched(answer, *, until_s=1.0, running=None):
    """Return what was fetched in `until_s` at five a second, and what was asked."""
    timeline = Timeline.begin(ManualClock())
    http = ScriptedHttp(answer)
    found = fetch_beside(
        http,
        REQUEST,
        interval_s=0.2,
        waiting_s=3.0,
        timeline=timeline,
        running=running or Unattended(),
        enough=lambda: timeline.now_s() >= until_s - 1e-9,
    )
    return found, http


def answered(request, **more):
    """Return a whole answer."""
    phases = {"connect_ms": 21.0, "first_byte_ms": 22.0, "total_ms": 45.0, "status": 200}
    return HttpExchange(url=request.url, body=b"{}", **(phases | more))


def test_fetches_begin_on_a_fixed_clock_with_their_phases():
    running = Unattended()
    found, http = fetched(answered, running=running)
    assert [one.sent_s for one in found] == pytest.approx([0.0, 0.2, 0.4, 0.6, 0.8])
    assert {(one.connect_ms, one.tls_ms, one.first_byte_ms) for one in found} == {
        (21.0, None, 22.0)
    }
    assert set(http.asked) == {REQUEST}
    assert running.bytes_used == 5 * 2


def test_a_slow_answer_holds_no_other_up_and_a_dead_line_is_not_piled_upon():
    gate = threading.Event()

    def slow(request):
        if len(http_asked) < MOST_AT_ONCE:
            http_asked.append(request)
            gate.wait()
        return answered(request)

    http_asked = []
    timeline = Timeline.begin(ManualClock())
    begun = []

    def enough():
        begun.append(None)
        over = len(begun) > 3 * MOST_AT_ONCE
        if over:
            gate.set()
        return over

    found = fetch_beside(
        ScriptedHttp(slow),
        REQUEST,
        interval_s=0.2,
        waiting_s=3.0,
        timeline=timeline,
        running=Unattended(),
        enough=enough,
    )
    assert len(found) == MOST_AT_ONCE


def test_what_failed_is_kept_with_its_reason():
    fault = TimedOut(address="203.0.113.9", after_s=3.0)
    found, _ = fetched(lambda request: HttpExchange(url=request.url, fault=fault), until_s=0.2)
    assert [one.problem for one in found] == ["timed-out"]
    busy, _ = fetched(lambda request: answered(request, status=503), until_s=0.2)
    assert [one.problem for one in busy] == ["bad-reply"]


def test_a_stopped_visit_ends_the_fetches():
    class Stopped(Unattended):
        def stopped(self):
            return True

    found, http = fetched(answered, running=Stopped())
    assert (found, http.asked) == ((), [])
