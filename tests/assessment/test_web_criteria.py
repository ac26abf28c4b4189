"""The web judged on several independent sites; limits by common practice, no source."""

from dataclasses import replace

import pytest
from visits import criterion, dead_page, dns, judge, page, path, server, visit, with_limits

from agent.assessment.model import Verdict
from agent.measurements import Certificate

MEETS, BELOW, OPEN = Verdict.MEETS, Verdict.BELOW, Verdict.NOT_PROVEN
PORTAL = {"redirected_to": "http://activation.ternbay.example/"}


def judged(*pages, name="web-reached", rules=None):
    rest = visit(without=("http-one", "http-two"))
    found = criterion(judge((*rest, *pages), rules=rules), name)
    return found.outcome, found.reason.code if found.reason else None


def of_host(measured, host):
    return replace(
        measured, observed=replace(measured.observed, url=f"https://{host}.example.com/x")
    )


def test_two_pages_of_one_host_are_one_site():
    """Three pages of a dead host and one that answers: one dead site of two."""
    dead = [of_host(dead_page(n), "one") for n in "abc"]
    assert judged(*dead, page("two")) == (MEETS, None)
    ratio = with_limits(web_reached={"unit": "ratio", "value": 1.0})
    assert judged(*dead, page("two"), rules=ratio) == (MEETS, None)
    assert judged(*dead, dead_page("three"), page("two"), rules=ratio) == (BELOW, None)
    assert judged(*dead) == (OPEN, "too-few-targets")


def test_a_line_behind_a_portal_is_not_failed():
    """Field practice: hold the verdict until the line is activated; not a line fault."""
    pages = (page("one", **PORTAL), page("two", **PORTAL))
    assert judged(*pages) == (OPEN, "intercepted")
    found = criterion(judge(visit(*pages)), "web-reached")
    assert found.reason.values["portal"] == "activation.ternbay.example"
    assert judged(page("one", **PORTAL), dead_page("two")) == (OPEN, "intercepted")


@pytest.mark.parametrize(
    ("fault", "expected"),
    [
        ("expired", (MEETS, None)),
        ("not-yet-valid", (MEETS, None)),
        ("unknown-issuer", (BELOW, None)),
        ("wrong-name", (BELOW, None)),
    ],
)
def test_a_site_whose_certificate_has_only_wrong_dates_is_there(fault, expected):
    shown = Certificate(valid=False, fault=fault)
    pages = [of_host(dead_page(n, problem="tls-fault"), n) for n in ("one", "two", "three")]
    shaped = [
        replace(
            p,
            observed=replace(
                p.observed,
                attempts=tuple(replace(a, certificate=shown) for a in p.observed.attempts),
            ),
        )
        for p in pages
    ]
    assert judged(*shaped) == expected


def test_dead_names_and_a_dead_line_are_judged_elsewhere():
    pages = (dead_page("one"), dead_page("two"))
    silent = judge(visit(dns(answered=0), *pages))
    assert criterion(silent, "web-reached").reason.code == "names-silent"


def test_how_long_a_page_takes_is_shown_and_decides_nothing_by_default():
    quick = page("one", total_ms=100.0), page("two", total_ms=200.0)
    assert judged(*quick, name="web-total") == (MEETS, None)
    slow = page("one", total_ms=3_500.0), page("two", total_ms=4_500.0)
    assert judged(*slow, name="web-total") == (BELOW, None)
    assert judge(visit(*slow)).assessment.verdict is MEETS


def test_pages_that_never_came_have_no_time():
    found = judge(visit(dead_page("one"), dead_page("two"), server(), path()))
    assert "web-total" not in {c.name for c in found.assessment.criteria}
