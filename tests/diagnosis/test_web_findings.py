"""Pages that fail for the site, the network, a portal or the laptop's own clock, told apart."""

from dataclasses import replace

import pytest
from visits import dead_page, dns, down, judge, measured, page, server, settings, visit

from agent.measurements import (
    Certificate,
    Kind,
    PortalAnswer,
    ProxySetting,
    Role,
    WebAccess,
)
from agent.sheet.wording import SENTENCE, finding_sentence

CLOCK = "2026-03-02T09:00:00Z"
ACTIVATION = "http://activation.ternbay.example/start"


def site(name, *, secure=False, marker=False, **attempt):
    whole = page(name, **attempt)
    url = f"http{'s' if secure else ''}://{name}.example/"
    return replace(whole, observed=replace(whole.observed, url=url, marker=marker))


def gone(name, problem="timed-out", **more):
    return site(name, status=None, total_ms=None, problem=problem, **more)


def refused(name, fault, *, begins="2025-01-01T00:00:00Z", expires="2027-01-01T00:00:00Z"):
    shown = Certificate(valid=False, fault=fault, begins=begins, expires=expires)
    return gone(name, "tls-fault", secure=True, certificate=shown, clock=CLOCK)


def access(*, portal=None, proxies=()):
    return measured(
        Kind.HTTP, Role.LOCAL, WebAccess(proxies=proxies, portal=portal), id="http-access"
    )


def told(*pages, **more):
    bare = visit(*pages, without=("http-one", "http-two"))
    return judge(bare, **more).diagnosis.findings


def codes(*pages, **more):
    return [f.code for f in told(*pages, **more)]


def portal(name, to=ACTIVATION, **more):
    return site(name, redirected_to=to, status=302, **more)


HEALTHY = (
    site("a", date="2026-03-02T09:00:00Z", clock=CLOCK),
    site("b", date="2026-03-02T08:59:59Z", clock=CLOCK),
    site("c", secure=True, certificate=Certificate(valid=True), clock=CLOCK),
)


def test_pages_that_come_are_no_finding():
    assert codes(*HEALTHY, access()) == []


# Portals.


def test_every_page_leads_to_the_activation():
    (found,) = told(portal("a"), portal("b"), gone("c", "refused", secure=True))
    assert (found.code, found.segment, found.next_step) == (
        "walled-garden",
        "operator",
        "finish-activation",
    )
    assert found.values["portal"] == "activation.ternbay.example"


@pytest.mark.parametrize("first", [{"asks_sign_in": True}, {"status": 511}])
def test_pages_that_ask_for_a_sign_in(first):
    """RFC 6585 §6 for 511: a sign-in to the network, told without any redirect."""
    foreign = {"to": "http://hotel.example/in"}
    (found,) = told(
        portal("a", **foreign, **first) if "status" not in first else site("a", status=511),
        portal("b", **foreign),
    )
    assert (found.code, found.next_step) == ("login-page", "sign-in-or-leave")


def test_a_sign_in_at_the_homes_own_router_lies_in_the_home():
    near = "http://192.168.1.1/guest"
    (found,) = told(portal("a", to=near), portal("b", to=near))
    assert (found.code, found.segment) == ("login-page", "home")


def test_the_operators_own_activation_may_ask_for_a_password():
    rules = settings()
    line = rules.line.model_copy(update={"activation_hosts": ("ternbay.example",)})
    pages = (portal("a", asks_sign_in=True), portal("b"))
    rules = rules.model_copy(update={"line": line})
    assert codes(*pages, rules=rules) == ["walled-garden"]
    assert codes(*pages) == ["login-page"]


def test_pages_without_their_text_are_somebody_elses():
    pages = [site(n, marker=True, marker_found=False) for n in "ab"]
    (found,) = told(*pages)
    assert (found.code, found.values["portal"]) == ("walled-garden", None)
    assert finding_sentence(found.code, found.values).startswith("Pages lead to another page")


def test_what_the_portal_breaks_is_not_told_beside_it():
    pages = (
        portal("a", via="1.1 portal"),
        portal("b", via="1.1 portal"),
        refused("c", "wrong-name"),
        gone("d"),
    )
    assert codes(*pages, server(up=800)) == ["walled-garden"]


CAPTIVE = PortalAnswer(
    url="https://api.ternbay.example/x",
    told_by="dhcp",
    captive=True,
    user_portal_url=ACTIVATION,
)


def test_the_network_may_say_itself_that_it_is_closed():
    """RFC 8908 §5: captive is true; no page needs to have come."""
    (found,) = told(gone("a"), gone("b"), access(portal=CAPTIVE))[:1]
    assert (found.code, found.values["portal"]) == (
        "walled-garden",
        "activation.ternbay.example",
    )
    assert found.confidence > 0.9
    assert "http-access" in found.evidence


def test_an_api_that_lags_behind_pages_that_come_is_not_believed():
    assert codes(*HEALTHY, access(portal=CAPTIVE)) == []
    opened = replace(CAPTIVE, captive=False)
    assert codes(gone("a"), gone("b"), access(portal=opened)) == ["web-unreached"]


# Sites.


def test_one_dead_site_and_all_dead_sites():
    (found,) = told(gone("a"), *HEALTHY[1:])
    assert (found.code, found.segment, found.next_step) == (
        "site-unreached",
        "beyond",
        "none-on-this-line",
    )
    assert found.values["target"] == "a.example"
    assert codes(gone("a"), gone("b"), gone("c")) == ["web-unreached"]


def test_one_page_that_is_another_is_a_matter_of_that_page():
    (found,) = told(site("a", marker=True, marker_found=False), *HEALTHY[1:])
    assert (found.code, found.segment, found.next_step) == (
        "content-changed",
        "beyond",
        "check-page-setting",
    )


def test_fixed_pages_that_come_with_another_body_were_changed_on_the_way():
    altered = [site(n, unchanged=False) for n in "ab"]
    (found,) = told(*altered, site("c", via="1.1 x"))
    assert (found.code, found.segment) == ("content-changed", "operator")
    assert codes(site("a", unchanged=True), site("b")) == []


def test_a_slow_site_and_slow_pages():
    (found,) = told(site("a", total_ms=4_200.0), *HEALTHY[1:])
    assert (found.code, found.segment, found.values["total_ms"]) == ("web-slow", "beyond", 4_200.0)
    every = [site(n, total_ms=4_200.0) for n in "ab"]
    (found,) = told(*every)
    assert (found.segment, found.next_step) == ("undetermined", "refer-to-operator")
    by_name = [site(n, total_ms=4_200.0, lookup_ms=4_000.0) for n in "ab"]
    assert codes(*by_name) == []
    assert codes(*every, down(50e6)) == ["slow-line"]


# Certificates and the clock.


@pytest.mark.parametrize("fault", ["expired", "wrong-name", "self-signed", "unknown-issuer"])
def test_one_bad_certificate_is_its_sites(fault):
    (found,) = told(refused("x", fault), *HEALTHY)
    assert (found.code, found.segment) == ("certificate-problem", "beyond")
    assert found.values["certificate"] == fault
    assert codes(refused("a", fault)) == ["certificate-problem"]


def test_secure_pages_of_several_sites_that_nobody_vouches_for_are_opened_on_the_way():
    (found,) = told(refused("x", "unknown-issuer"), refused("y", "unknown-issuer"), HEALTHY[0])
    assert (found.code, found.segment, found.next_step) == (
        "certificate-problem",
        "undetermined",
        "look-for-filter",
    )


AHEAD = {"date": "2028-03-01T09:00:00Z", "clock": CLOCK}


def test_a_clock_that_several_sites_contradict_is_wrong_and_no_certificate_is():
    pages = (
        site("a", **AHEAD),
        site("b", **AHEAD),
        refused(
            "c", "not-yet-valid", begins="2028-01-01T00:00:00Z", expires="2029-01-01T00:00:00Z"
        ),
    )
    (found,) = told(*pages)
    assert (found.code, found.segment, found.next_step) == ("clock-wrong", "laptop", "set-clock")
    assert found.values["off_s"] == pytest.approx(-730 * 86_400, abs=1)
    said = finding_sentence(found.code, found.values)
    assert said.startswith("The laptop's clock is 730 days slow, 2 sites agree")
    assert len(said) <= SENTENCE


def test_a_certificate_that_is_bad_at_the_true_time_too_is_told_beside_the_clock():
    long_gone = refused("c", "expired", expires="2020-01-01T00:00:00Z")
    found = codes(site("a", **AHEAD), site("b", **AHEAD), long_gone)
    assert found == ["clock-wrong", "certificate-problem"]


def test_one_site_with_a_wrong_date_says_nothing_of_the_laptop():
    assert codes(site("a", **AHEAD), *HEALTHY[1:]) == []
    assert codes(site("a", **AHEAD)) == []


def test_two_sites_that_contradict_each_other_say_nothing():
    other = {"date": "2031-03-01T09:00:00Z", "clock": CLOCK}
    assert codes(site("a", **AHEAD), site("b", **other)) == []


@pytest.mark.parametrize("off_s", [0, 30, 55])
def test_a_clock_right_to_the_minute_is_right(off_s):
    near = {"date": f"2026-03-02T09:00:{off_s:02}Z", "clock": CLOCK}
    assert codes(site("a", **near), site("b", **near)) == []


def test_certificates_alone_make_a_wrong_clock_only_possible():
    """Without a Date nobody tells the time; that all are of tomorrow is told by the laptop."""
    future = {"begins": "2028-01-01T00:00:00Z", "expires": "2029-01-01T00:00:00Z"}
    pages = (refused("a", "not-yet-valid", **future), refused("b", "not-yet-valid", **future))
    (found,) = told(*pages)
    assert (found.code, found.confidence < 0.75) == ("clock-wrong", True)
    mixed = (refused("a", "not-yet-valid", **future), refused("b", "expired"))
    assert codes(*mixed) == ["certificate-problem"]


# Proxies.


def secure_of(name, **attempt):
    """The secure page of a site that has a plain one too."""
    whole = site(name, secure=True, certificate=Certificate(valid=True), clock=CLOCK, **attempt)
    return replace(whole, id=f"http-{name}-secure")


CACHE = {"via": "1.1 cache.ternbay.example"}


@pytest.mark.parametrize(
    "pages",
    [
        (site("a", **CACHE), site("b", **CACHE), secure_of("a")),
        (site("a", unchanged=True, **CACHE), site("b", **CACHE)),
    ],
    ids=["the secure page of a site is not relayed", "a fixed page is"],
)
def test_plain_pages_relayed_by_one_and_the_same(pages):
    """RFC 9110 §7.6.3: who relays names itself in Via."""
    (found,) = told(*pages)
    assert (found.code, found.segment) == ("proxy-in-the-way", "operator")
    assert found.values["via"] == "1.1 cache.ternbay.example"


@pytest.mark.parametrize(
    "pages",
    [
        (site("a", via="1.1 x"), site("b", via="1.1 x"), secure_of("a", via="1.1 x")),
        (site("a", via="1.1 x"), site("b", via="1.1 x"), site("c", secure=True)),
        (site("a", via="1.1 x"), site("b", via="1.1 x")),
        (site("a", via="1.1 x"), site("b", via="1.1 y"), secure_of("a")),
        (site("a", via="1.1 x"), site("b"), secure_of("a")),
        (site("a", via="1.1 x"), secure_of("a")),
    ],
)
def test_what_sites_put_before_themselves_is_no_proxy_in_the_way(pages):
    assert codes(*pages) == []


def test_a_proxy_of_the_laptop_is_only_named():
    proxy = ProxySetting(scheme="http", address="proxy.example:3128", told_by="environment")
    found = judge(visit(access(proxies=(proxy,)))).diagnosis
    assert (found.segment, [f.code for f in found.findings]) == ("none", ["laptop-proxy"])
    assert found.findings[0].values == {"proxy": "proxy.example:3128"}


def test_dead_names_explain_dead_pages():
    pages = (dead_page("a", "name-not-resolved"), dead_page("b", "name-not-resolved"))
    assert codes(*pages, dns(answered=0)) == ["dns-silent"]


HOSTILE = "\x1b[2J\u202e<script>{}%s" * 40


@pytest.mark.parametrize("code", ["walled-garden", "login-page", "proxy-in-the-way", "web-slow"])
def test_texts_of_the_network_stand_in_a_sentence_bounded_and_harmless(code):
    values = {"portal": HOSTILE, "via": HOSTILE, "target": HOSTILE, "total_ms": 1.0, "sites": 2}
    said = finding_sentence(code, {**values, "limit_ms": 1.0})
    assert len(said) <= SENTENCE
    assert said.isprintable() or "\N{NO-BREAK SPACE}" in said
    assert "\u202e" not in said
    assert "\x1b" not in said
