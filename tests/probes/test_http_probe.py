"""The HTTP probe over a scripted port: every attempt kept, redirects noted, markers looked for."""

from hashlib import sha256

import pytest

from agent.clock import ManualClock, Timeline
from agent.errors import NameNotResolved, TimedOut, TlsFault
from agent.measurements import Certificate, Kind, Role, State
from agent.ports.http import HttpExchange, ScriptedHttp
from agent.ports.running import Unattended
from agent.probes.http import measure_http
from agent.settings.model import HttpPlan, WebTarget

URL = "http://www.tern.example/"
PLAN = HttpPlan(attempts=3, waiting_s=5.0)


class Case:
    """One measurement over a function of the URL, each fetch taking a fixed time."""

    def __init__(self, answer, *, takes_s=0.5):
        self.clock = ManualClock()
        self.running = Unattended()

        def answered(request):
            self.clock.sleep(takes_s)
            return answer(request)

        self.http = ScriptedHttp(answered)

    def measure(self, *, url=URL, marker=None, plan=PLAN, within_s=30.0, running=None, sha256=None):
        return measure_http(
            self.http,
            WebTarget(name="tern", url=url, marker=marker, sha256=sha256),
            plan,
            timeline=Timeline(self.clock, 0.0),
            within_s=within_s,
            running=running or self.running,
        )


def page(request, **chosen):
    fields = {
        "url": request.url,
        "remote": "198.51.100.7",
        "family": 4,
        "status": 200,
        "body": b"the tern has landed",
        "lookup_ms": 1.0,
        "connect_ms": 2.0,
        "first_byte_ms": 3.0,
        "total_ms": 7.0,
    }
    return HttpExchange(**(fields | chosen))


def moved(request, to, status=301):
    return page(request, status=status, headers=(("location", to),), body=b"")


def test_every_attempt_is_kept_with_its_phases():
    case = Case(page)
    measured = case.measure()
    assert (measured.kind, measured.role, measured.state) == (
        Kind.HTTP,
        Role.OUTSIDE,
        State.COMPLETE,
    )
    assert (measured.address, measured.family) == ("198.51.100.7", 4)
    first, second, third = measured.observed.attempts
    assert [first.sent_s, second.sent_s, third.sent_s] == [0.0, 0.5, 1.0]
    assert (first.lookup_ms, first.connect_ms, first.tls_ms) == (1.0, 2.0, None)
    assert (first.first_byte_ms, first.total_ms, first.status) == (3.0, 7.0, 200)
    assert case.running.bytes_used == 3 * len(b"the tern has landed")


@pytest.mark.parametrize(
    ("marker", "cut", "found"),
    [
        (None, False, None),
        ("landed", False, True),
        ("flown", False, False),
        ("flown", True, None),
        ("landed", True, True),
    ],
)
def test_the_marker_is_looked_for_in_what_came(marker, cut, found):
    measured = Case(lambda request: page(request, cut=cut)).measure(marker=marker)
    assert measured.observed.marker is (marker is not None)
    assert {attempt.marker_found for attempt in measured.observed.attempts} == {found}


@pytest.mark.parametrize(
    "fault",
    [
        NameNotResolved(name="www.tern.example", problem="no answer"),
        TimedOut(address="198.51.100.7", after_s=5.0),
    ],
)
def test_a_failed_attempt_is_a_result(fault):
    measured = Case(lambda request: HttpExchange(url=request.url, fault=fault)).measure()
    assert measured.state is State.COMPLETE
    attempt = measured.observed.attempts[0]
    assert (attempt.problem, attempt.status, attempt.bytes) == (fault.code, None, None)
    assert attempt.marker_found is None


def test_a_bad_certificate_is_kept_with_the_attempt():
    shown = Certificate(valid=False, problem="certificate has expired")
    fault = TlsFault(address="198.51.100.7", problem="certificate has expired")
    answer = lambda r: HttpExchange(url=r.url, fault=fault, certificate=shown)  # noqa: E731
    attempt = Case(answer).measure().observed.attempts[0]
    assert (attempt.problem, attempt.certificate) == ("tls-fault", shown)


def test_http_to_https_of_the_same_host_is_followed_once_and_noted():
    def answer(request):
        if request.url.startswith("http://"):
            return moved(request, "https://www.tern.example/")
        return page(request)

    case = Case(answer)
    measured = case.measure(plan=HttpPlan(attempts=1), marker="landed")
    attempt = measured.observed.attempts[0]
    assert [r.url for r in case.http.asked] == [URL, "https://www.tern.example/"]
    assert (attempt.status, attempt.marker_found) == (200, True)
    assert attempt.redirected_to == "https://www.tern.example/"


@pytest.mark.parametrize(
    ("location", "noted"),
    [
        ("http://portal.example/login", "http://portal.example/login"),
        ("https://portal.example/login", "https://portal.example/login"),
        ("/login?mac=02%3A00%3A5e#x", "http://www.tern.example/login"),
        ("https://[bad", None),
        ("https://www.tern.example/" + "x" * 9_000, None),
    ],
)
def test_any_other_redirect_is_noted_and_not_taken_for_the_page(location, noted):
    def answer(request):
        foreign = "portal.example" in request.url
        return page(request) if foreign else moved(request, location, 302)

    case = Case(answer)
    attempt = case.measure(plan=HttpPlan(attempts=1)).observed.attempts[0]
    assert attempt.status == 302
    assert attempt.redirected_to is not None
    assert len(attempt.redirected_to) <= 300
    if noted is not None:
        assert attempt.redirected_to == noted
    # The page of another host is looked at, for what it asks; nothing else is.
    if noted is not None:
        foreign = "portal.example" in noted
        assert [r.url for r in case.http.asked] == ([URL, noted] if foreign else [URL])


def test_a_loop_between_http_and_https_ends():
    def answer(request):
        return moved(request, "https://www.tern.example/loop")

    case = Case(answer)
    case.measure(plan=HttpPlan(attempts=1))
    assert len(case.http.asked) == 2


def test_both_fetches_of_a_redirect_share_one_waiting_time():
    def answer(request):
        return moved(request, "https://www.tern.example/")

    case = Case(answer, takes_s=2.0)
    case.measure(plan=HttpPlan(attempts=1, waiting_s=5.0))
    assert case.http.waits_s == pytest.approx([5.0, 3.0])


def test_the_time_limit_leaves_what_was_fetched():
    measured = Case(page, takes_s=4.0).measure(within_s=6.0)
    assert (measured.state, measured.reason.code) == (State.PARTIAL, "time-limit")
    assert len(measured.observed.attempts) == 2


def test_a_stop_before_the_first_attempt_has_nothing_to_show():
    class Stopped(Unattended):
        def stopped(self):
            return True

    measured = Case(page).measure(running=Stopped())
    assert (measured.state, measured.observed) == (State.FAILED, None)


def test_what_a_followed_redirect_took_stands_beside_the_phases_of_the_page():
    """W3C Resource Timing: redirectEnd - redirectStart; the whole lasts from start to the end."""

    def answer(request):
        if request.url == URL:
            return moved(request, "https://www.tern.example/")
        return page(request, total_ms=40.0, first_byte_ms=9.0, transfer_ms=1.0, tls_ms=11.0)

    attempt = Case(answer).measure(plan=HttpPlan(attempts=1)).observed.attempts[0]
    assert (attempt.redirect_ms, attempt.total_ms) == (7.0, 47.0)
    assert (attempt.tls_ms, attempt.first_byte_ms, attempt.transfer_ms) == (11.0, 9.0, 1.0)


SIGN_IN = b"<title>Tern Bay guests</title><form><input type='password'></form>"


def test_the_page_that_a_portal_shows_is_looked_at_once():
    def answer(request):
        if request.url == URL:
            return moved(request, "http://portal.example/", 302)
        return page(request, body=SIGN_IN)

    case = Case(answer)
    first, *later = case.measure(plan=HttpPlan(attempts=3), marker="landed").observed.attempts
    assert (first.title, first.asks_sign_in) == ("Tern Bay guests", True)
    assert (first.marker_found, first.redirected_to) == (False, "http://portal.example/")
    assert [r.url for r in case.http.asked].count("http://portal.example/") == 1
    assert all(one.redirected_to == "http://portal.example/" for one in later)


def test_a_refresh_in_a_page_that_is_not_the_expected_one_leads_elsewhere():
    body = b"<meta http-equiv=refresh content='0; url=http://portal.example/a'>"

    def answer(request):
        return page(request, body=body if request.url == URL else SIGN_IN)

    attempt = Case(answer).measure(plan=HttpPlan(attempts=1), marker="landed").observed.attempts[0]
    assert (attempt.redirected_to, attempt.asks_sign_in) == ("http://portal.example/a", True)


def test_a_refresh_in_the_expected_page_is_its_own_affair():
    body = b"landed <meta http-equiv=refresh content='9; url=http://other.example/'>"
    case = Case(lambda request: page(request, body=body))
    attempt = case.measure(plan=HttpPlan(attempts=1), marker="landed").observed.attempts[0]
    assert (attempt.redirected_to, attempt.title, len(case.http.asked)) == (None, None, 1)


def test_status_511_is_the_network_asking():
    """RFC 6585 §6."""
    attempt = (
        Case(lambda request: page(request, status=511, body=SIGN_IN))
        .measure(plan=HttpPlan(attempts=1))
        .observed.attempts[0]
    )
    assert (attempt.status, attempt.asks_sign_in) == (511, True)


@pytest.mark.parametrize(
    ("body", "status", "unchanged"),
    [
        (b"the tern has landed", 200, True),
        (b"the tern has landed<script>", 200, False),
        (b"", 503, None),
        (b"", 302, None),
    ],
)
def test_a_fixed_page_is_compared_whole(body, status, unchanged):
    digest = sha256(b"the tern has landed").hexdigest()
    measured = Case(lambda request: page(request, body=body, status=status)).measure(
        plan=HttpPlan(attempts=1), sha256=digest
    )
    assert measured.observed.fixed is True
    assert measured.observed.attempts[0].unchanged is unchanged


def test_the_answers_date_stands_beside_the_laptops_clock():
    """RFC 9110 §6.6.1 (Date), RFC 9111 §5.1 (Age); the clock is read when the answer has come."""
    headers = (("Date", "Mon, 02 Mar 2026 09:00:00 GMT"), ("age", "30"), ("Via", "1.1 relay\x1b"))
    case = Case(lambda request: page(request, headers=headers))
    attempt = case.measure(plan=HttpPlan(attempts=1)).observed.attempts[0]
    assert attempt.date == "2026-03-02T09:00:00.000Z"
    assert attempt.age_s == 30
    assert attempt.clock == "2026-03-02T09:00:00.500Z"
    assert attempt.via == "1.1 relay\N{REPLACEMENT CHARACTER}"


@pytest.mark.parametrize("told", ["", "yesterday", "-1", "\u0663", "9" * 13])
def test_odd_fields_are_passed_over(told):
    headers = (("Date", told), ("Age", told), ("Via", " "))
    attempt = (
        Case(lambda request: page(request, headers=headers))
        .measure(plan=HttpPlan(attempts=1))
        .observed.attempts[0]
    )
    assert (attempt.date, attempt.age_s, attempt.via) == (None, None, None)
