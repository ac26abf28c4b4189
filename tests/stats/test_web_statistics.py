"""Whose page came, whose clock is wrong: one web target's attempts reduced."""

import pytest

from agent.measurements import (
    Certificate,
    PortalAnswer,
    ProxySetting,
    WebAccess,
    WebAttempt,
    WebFetch,
)
from agent.stats.web import http_statistics
from agent.stats.web_access import web_access_statistics

URL = "http://www.tern.example/"


def came(**more):
    fields = {"sent_s": 0.0, "status": 200, "total_ms": 400.0}
    return WebAttempt(**{**fields, **more})


def found(*attempts, marker=True, url=URL):
    fetch = WebFetch(target="tern", url=url, marker=marker, attempts=attempts)
    return http_statistics(fetch)


@pytest.mark.parametrize("status", [404, 500, 503])
def test_a_site_that_says_it_is_unwell_is_nobody_elses_page(status):
    """RFC 9110 §15.5, §15.6."""
    told = found(came(status=status, marker_found=False))
    assert (told.answered, told.intercepted, told.status) == (0, False, status)


def test_511_is_the_network_asking_for_a_sign_in():
    """RFC 6585 §6."""
    told = found(came(status=511, marker_found=False))
    assert (told.answered, told.intercepted, told.asks_sign_in) == (0, True, True)


def test_the_host_that_is_shown_instead_is_named():
    told = found(
        came(marker_found=False, redirected_to="http://Portal.ternbay.example:8080/in?x=1"),
    )
    assert (told.portal, told.intercepted) == ("portal.ternbay.example", True)
    own = found(came(marker_found=True, redirected_to="https://tern.example/"))
    assert (own.portal, own.intercepted, own.answered) == (None, False, 1)


@pytest.mark.parametrize("bad", ["http://[", "https://[bad", "x", "//", "http://[::1]x/"])
def test_a_location_that_cannot_be_read_breaks_nothing(bad):
    assert found(came(marker_found=True, redirected_to=bad)).answered in {0, 1}


@pytest.mark.parametrize(
    ("clock", "date", "age_s", "ahead_s"),
    [
        # The answer came 0.4 s after the asking: the date was written within, cut to the second.
        ("2026-03-02T09:00:00.900Z", "2026-03-02T09:00:00.000Z", None, 0.2),
        ("2026-03-02T10:00:00.900Z", "2026-03-02T09:00:00.000Z", None, 3600.2),
        ("2024-03-02T09:00:00.900Z", "2026-03-02T09:00:00.000Z", None, -730 * 86400 + 0.2),
        # RFC 9111 §5.1: a cache's answer is older by its Age.
        ("2026-03-02T09:00:30.900Z", "2026-03-02T09:00:00.000Z", 30, 0.2),
    ],
)
def test_the_laptops_clock_against_the_answers_date(clock, date, age_s, ahead_s):
    told = found(came(clock=clock, date=date, age_s=age_s, marker_found=True))
    assert told.clock_ahead_s == pytest.approx(ahead_s)
    assert told.clock_unsure_s == pytest.approx(0.7)


@pytest.mark.parametrize(
    ("seconds", "ahead_s"),
    [((10, 30), 20.2), ((30, 10), 20.2), ((10, 20, 50), 20.2), ((10, 20, 30, 50), 25.2)],
)
def test_several_answers_are_one_clock_the_median(seconds, ahead_s):
    """Each on its own says its seconds and the 0.2 of the table above."""
    clocks = (f"2026-03-02T09:00:{second}.900Z" for second in seconds)
    date = "2026-03-02T09:00:00.000Z"
    told = found(*(came(clock=clock, date=date, marker_found=True) for clock in clocks))
    assert told.clock_ahead_s == pytest.approx(ahead_s)


def test_a_portals_date_says_nothing_of_the_sites_clock():
    told = found(
        came(
            clock="2026-03-02T09:00:00Z",
            date="2030-03-02T09:00:00Z",
            marker_found=False,
        )
    )
    assert told.clock_ahead_s is None


def test_a_changed_body_counts_only_in_the_page_asked_for():
    assert found(came(marker_found=True, unchanged=False)).changed is True
    assert found(came(marker_found=True, unchanged=True)).changed is False
    assert found(came(marker_found=False, unchanged=False)).changed is None
    assert found(came(marker_found=True)).changed is None


def test_what_a_certificate_has_against_it_and_what_came_of_it():
    shown = Certificate(
        valid=False,
        problem="certificate is not yet valid",
        fault="not-yet-valid",
        begins="2030-01-01T00:00:00Z",
        issuer="Tern Bay Root",
    )
    told = found(
        WebAttempt(
            sent_s=0.0, problem="tls-fault", certificate=shown, clock="2026-03-02T09:00:00Z"
        ),
        url="https://www.tern.example/",
    )
    assert (told.certificate_fault, told.problem, told.secure) == (
        "not-yet-valid",
        "tls-fault",
        True,
    )
    assert (told.certificate_begins, told.clock) == (shown.begins, "2026-03-02T09:00:00Z")
    assert (told.host, told.certificate_issuer) == ("www.tern.example", "Tern Bay Root")


def test_the_way_out_of_a_network_and_a_laptop():
    proxies = tuple(
        ProxySetting(scheme=s, address="proxy.example:3128", told_by="system")
        for s in ("http", "https")
    )
    bare = web_access_statistics(WebAccess(proxies=proxies))
    assert (bare.proxies, bare.captive, bare.portal) == (("proxy.example:3128",), None, None)
    answer = PortalAnswer(
        url="https://api.example/x",
        told_by="dhcp",
        captive=True,
        user_portal_url="https://Portal.example:8443/in",
    )
    told = web_access_statistics(WebAccess(proxies=(), portal=answer))
    assert (told.captive, told.portal, told.told_by) == (True, "portal.example", "dhcp")
