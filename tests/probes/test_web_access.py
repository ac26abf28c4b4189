"""The captive portal API over a scripted port: RFC 8908 asked as it wants to be asked."""

import pytest

from agent.clock import ManualClock, Timeline
from agent.errors import TimedOut
from agent.measurements import Kind, ProxySetting, Role, State
from agent.ports.http import HttpExchange, ScriptedHttp
from agent.ports.running import Unattended
from agent.probes.web_access import NamedApi, measure_web_access

URL = "https://example.org/captive-portal/api/X54PD39JV"
TYPE = (("Content-Type", "application/captive+json"),)
# RFC 8908 §6, the first example.
BODY = b'{"captive": true, "user-portal-url": "https://example.org/portal.html"}'


def asked(answer, *, url=URL, told_by="dhcp", running=None):
    http = ScriptedHttp(answer)
    measured = measure_web_access(
        http,
        NamedApi(url=url, told_by=told_by),
        (),
        timeline=Timeline(ManualClock(), 0.0),
        within_s=5.0,
        running=running or Unattended(),
    )
    return measured, http


def answer(status=200, headers=TYPE, body=BODY, fault=None):
    return lambda request: HttpExchange(
        url=request.url, status=status, headers=headers, body=body, fault=fault, total_ms=9.0
    )


def test_the_answer_of_the_standard_is_kept():
    measured, http = asked(answer())
    assert (measured.kind, measured.role, measured.state) == (
        Kind.HTTP,
        Role.LOCAL,
        State.COMPLETE,
    )
    told = measured.observed.portal
    assert (told.captive, told.user_portal_url) == (True, "https://example.org/portal.html")
    assert (told.told_by, told.status, told.problem) == ("dhcp", 200, None)
    assert (http.asked[0].accept, http.asked[0].method) == ("application/captive+json", "GET")
    assert http.asked[0].max_bytes <= 16_384


@pytest.mark.parametrize(
    ("script", "problem"),
    [
        (answer(headers=(("content-type", "text/html"),)), "wrong-type"),
        (answer(status=404), "wrong-type"),
        (answer(status=302, headers=(*TYPE, ("Location", "http://p.example/"))), "wrong-type"),
        (answer(body=b'{"captive": "yes"}'), "malformed"),
        (answer(body=b""), "malformed"),
        (
            answer(status=None, body=b"", fault=TimedOut(address="192.0.2.9", after_s=5.0)),
            "timed-out",
        ),
    ],
)
def test_anything_else_says_nothing_of_the_network(script, problem):
    told = asked(script)[0].observed.portal
    assert (told.captive, told.user_portal_url, told.problem) == (None, None, problem)


def test_a_network_may_say_that_it_has_no_portal():
    """RFC 8910 §2: the URN in place of an API."""
    measured, http = asked(answer(), url="urn:ietf:params:capport:unrestricted")
    assert (measured.observed.portal.captive, http.asked) == (False, [])


@pytest.mark.parametrize("url", ["http://example.org/api", "file:///etc/passwd", "x", ""])
def test_an_api_without_tls_is_not_asked(url):
    """RFC 8908 §4: the API is reached over TLS."""
    measured, http = asked(answer(), url=url)
    assert (measured.observed.portal.problem, http.asked) == ("not-secure", [])


def test_without_an_api_the_proxies_are_told():
    proxy = ProxySetting(scheme="http", address="proxy.example:3128", told_by="environment")
    http = ScriptedHttp(answer())
    timeline = Timeline(ManualClock(), 0.0)
    measured = measure_web_access(
        http, None, (proxy,), timeline=timeline, within_s=5.0, running=Unattended()
    )
    assert (measured.observed.proxies, measured.observed.portal) == ((proxy,), None)
    assert http.asked == []


def test_a_stopped_visit_asks_nothing():
    class Stopped(Unattended):
        def stopped(self):
            return True

    measured, http = asked(answer(), running=Stopped())
    assert (measured.state, measured.observed.portal, http.asked) == (State.PARTIAL, None, [])
