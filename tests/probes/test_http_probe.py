"""The HTTP probe over a scripted port: every attempt kept, redirects noted, markers looked for."""

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

    def measure(self, *, url=URL, marker=None, plan=PLAN, within_s=30.0, running=None):
        return measure_http(
            self.http,
            WebTarget(name="tern", url=url, marker=marker),
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
        ("/login", "http://www.tern.example/login"),
        ("https://[bad", None),
        ("https://www.tern.example/" + "x" * 9_000, None),
    ],
)
def test_any_other_redirect_is_noted_and_not_followed(location, noted):
    case = Case(lambda request: moved(request, location, 302))
    attempt = case.measure(plan=HttpPlan(attempts=1)).observed.attempts[0]
    assert attempt.status == 302
    assert attempt.redirected_to is not None
    assert len(attempt.redirected_to) <= 300
    if noted is not None:
        assert attempt.redirected_to == noted
        assert len(case.http.asked) == 1


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
