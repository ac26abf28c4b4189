"""Broken IPv6 is named by its kind; sound homes of every family give nothing."""

from dataclasses import replace

import pytest
from families import at_once, look, silent, swallowed, tried, unnamed
from visits import EDGE, GATEWAY, SERVER, dead_page, dns, judge, lease, measured, path, visit

from agent.diagnosis.families import RULES
from agent.diagnosis.model import Segment
from agent.measurements import Kind, MtuSearch, Named, Role, SizeOutcome
from agent.sheet.numbers import DASH
from agent.sheet.wording import SENTENCE, finding_sentence, step_texts

ONE, TWO = "harbour.example", "lighthouse.example"
CODES = {rule.code for rule in RULES}

CASES = [
    (
        look(at_once(ONE, 6), at_once(TWO, 6), routed=(4,)),
        ("ipv6-no-route", Segment.HOME, "mend-ipv6-router"),
    ),
    (look(silent(ONE, 6), silent(TWO, 6)), ("ipv6-dead", Segment.OPERATOR, "report-ipv6")),
    (
        look(swallowed(ONE, 6), swallowed(TWO, 6)),
        ("ipv6-large-packets-vanish", Segment.OPERATOR, "report-ipv6"),
    ),
    (
        look(unnamed(ONE, 6, Named.SILENT), unnamed(TWO, 6, Named.SILENT)),
        ("ipv6-names-silent", Segment.OPERATOR, "report-resolver"),
    ),
    (
        look(tried(ONE, 6, 180.0), tried(TWO, 6, 190.0)),
        ("ipv6-slower", Segment.OPERATOR, "report-ipv6"),
    ),
    (
        look(silent(ONE, 6), tried(TWO, 6)),
        ("ipv6-site-unanswered", Segment.BEYOND, "none-on-this-line"),
    ),
]


def seen(what):
    return measured(Kind.HTTP, Role.OUTSIDE, what, id="families", method="families", family=None)


def findings(*changes):
    return judge(visit(*changes)).diagnosis.findings


@pytest.mark.parametrize(("what", "named"), CASES)
def test_a_break_is_named_once_with_its_place_and_step(what, named):
    found = [f for f in findings(seen(what)) if f.code in CODES]
    assert [(f.code, f.segment, f.next_step) for f in found] == [named]
    assert found[0].evidence == ("families",)


@pytest.mark.parametrize(
    "what",
    [
        look(tried(ONE, 6), tried(TWO, 6)),
        look(held=(4,), routed=(4,)),
        look(tried(ONE, 6), tried(TWO, 6), translation_prefix="64:ff9b::/96"),
        look(unnamed(ONE, 6)),
    ],
)
def test_a_sound_home_gives_none(what):
    assert findings(seen(what)) == ()


@pytest.mark.parametrize(("what", "named"), CASES)
def test_its_sentence_is_whole_with_its_values(what, named):
    (found,) = (f for f in findings(seen(what)) if f.code == named[0])
    said = finding_sentence(found.code, found.values)
    assert len(said) <= SENTENCE
    assert not {"…", DASH, "{"} & set(said)
    assert "code" not in step_texts(found.next_step)[0]


def test_the_cost_of_a_dead_ipv6_stands_in_its_sentence():
    """RFC 8305 §8: 250 ms for a client that races; 127 s for one that waits."""
    (found,) = findings(seen(look(silent(ONE, 6), silent(TWO, 6))))
    said = finding_sentence(found.code, found.values)
    assert "250 ms" in said
    assert "127 s" in said


@pytest.mark.parametrize("six", [(at_once(ONE, 6), at_once(TWO, 6)), (silent(ONE, 6),) * 2])
def test_the_resolver_is_not_blamed_for_being_asked_over_a_dead_ipv6(six):
    """The resolver's other address is silent with everything else over IPv6."""
    dead = dns(answered=0, address="2001:db8::53", id="dns-other", family=6)
    pages = (replace(six[0], target=ONE), replace(six[1], target=TWO))
    routed = (4,) if six[0].problem == "no-route" else (4, 6)
    codes = [f.code for f in findings(dead, seen(look(*pages, routed=routed)))]
    assert len(codes) == 1
    assert set(codes) <= CODES


ROUTER, FAR_ROUTER = "2001:db8:7:101::1", "2001:db8:9::1"
PAGE = "2001:db8:f1::80"
NET_UNREACHABLE = (1, 0)
"""ICMPv6 destination unreachable, no route (RFC 4443 §3.1)."""


def walked(*answers, last=None):
    """The finding on a dead IPv6 with who answered on the way to a page."""
    walk = path(*answers, target=PAGE).observed
    types, codes = list(walk.icmp_type), list(walk.icmp_code)
    if last is not None:
        types[-1], codes[-1] = last
    walk = replace(walk, icmp_type=tuple(types), icmp_code=tuple(codes), protocol="udp")
    own = lease(family=6, address="2001:db8:7:101::20", prefix=64, gateway="fe80::1")
    own = replace(own, id="lease-6", family=6)
    dead = look(silent(ONE, 6), silent(TWO, 6), walk=walk)
    (found,) = (f for f in findings(own, seen(dead)) if f.code in CODES)
    return found


def test_past_a_router_of_the_operator_it_is_the_operators():
    found = walked(ROUTER, FAR_ROUTER, None)
    assert (found.segment, found.next_step) == (Segment.OPERATOR, "report-ipv6")
    assert found.values["last_hop"] == FAR_ROUTER


def test_past_the_homes_router_alone_it_may_be_the_routers_or_the_lines():
    found = walked(ROUTER, None, None)
    assert (found.segment, found.next_step) == (Segment.UNDETERMINED, "mend-ipv6-router")


def test_a_router_of_the_home_that_knows_no_way_is_the_place():
    found = walked(ROUTER, ROUTER, last=NET_UNREACHABLE)
    assert (found.segment, found.next_step) == (Segment.HOME, "mend-ipv6-router")


def test_where_not_even_the_router_answers_it_is_in_the_home():
    found = walked(None, None)
    assert (found.segment, found.next_step) == (Segment.HOME, "mend-ipv6-router")


def test_a_search_over_ipv6_that_saw_the_size_says_it_alone():
    """The size and the router that should have told are worth more than that there is one."""
    sizes, lost = (1500, 1280), (SizeOutcome.LOST, SizeOutcome.ANSWERED)
    search = MtuSearch(
        target=SERVER,
        protocol="stamp",
        header_bytes=48,
        size_bytes=sizes,
        distance=(None, None),
        sent_s=(0.0, 0.0),
        rtt_ms=(None, None),
        outcome=lost,
        far_received=(None, None),
        refused_by=(None, None),
        named_bytes=(None, None),
        answered_by=(None, None),
    )
    walked = path(GATEWAY, EDGE, SERVER)
    walked = replace(walked, family=6, observed=replace(walked.observed, mtu=search))
    broken = seen(look(swallowed(ONE, 6), swallowed(TWO, 6)))
    assert [f.code for f in findings(walked, broken)] == ["large-packets-vanish"]


def test_a_home_with_ipv6_alone_lacks_ipv4_unless_something_translates():
    alone = replace(look(tried(ONE, 6)), held=(6,), routed=(6,), tries=(tried(ONE, 6),))
    (found,) = findings(seen(alone), dead_page("one"))
    assert (found.code, found.segment, found.next_step) == (
        "ipv4-missing",
        Segment.HOME,
        "restart-router-for-ipv4",
    )
    assert len(finding_sentence(found.code, found.values)) <= SENTENCE
    assert findings(seen(replace(alone, translation_prefix="64:ff9b::/96"))) == ()


def test_a_dead_line_is_no_fault_of_ipv6():
    """Where IPv4 does not answer either, nothing is said of one family."""
    nothing = look(silent(ONE, 6), silent(TWO, 6), four=(silent(ONE, 4), silent(TWO, 4)))
    assert not CODES & {f.code for f in findings(seen(nothing))}
