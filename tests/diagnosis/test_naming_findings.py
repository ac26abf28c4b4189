"""Faults of resolvers as their measurements: what is found, where, and what stays unsaid.

Which resolver is asked first and how long it is waited for: resolv.conf(5), options `timeout` (5 s)
and `attempts` (2). Confidences and next steps: common practice, no source.
"""

from dataclasses import replace

import pytest
from visits import (
    GATEWAY,
    RESOLVER,
    calm,
    dead_page,
    dns,
    failed,
    first_hop,
    judge,
    measured,
    server,
    visit,
)

from agent.diagnosis.table import RULES
from agent.measurements import (
    ExtendedError,
    Kind,
    NameCheck,
    NameOutcome,
    NamePurpose,
    NameQueries,
    NameTransport,
    Role,
)
from agent.sheet.wording import SENTENCE, finding_sentence, step_texts

OK, LOST = NameOutcome.ANSWERED, NameOutcome.LOST
P = NamePurpose
SECOND = "203.0.113.54"
OURS = ("dns-", "encrypted-")


def resolver(*checks, answered=20, place=None, address=RESOLVER, **more):
    """One resolver's queries with single ones beside them; `more` replaces columns."""
    whole = dns(answered=answered, address=address, id=f"dns-{address}", rtt_ms=12.0)
    columns = {"checks": checks, "place": place, **more}
    return replace(whole, observed=replace(whole.observed, **columns))


def check(purpose, outcome=OK, **more):
    fields = {"name": "www.tern.example", "qtype": "A", "transport": NameTransport.UDP}
    told = {"rcode": 0, "records": 1, "size_bytes": 1100} if outcome is OK else {}
    return NameCheck(purpose=purpose, outcome=outcome, sent_s=0.1, **{**fields, **told, **more})


def found(*parts, without=("dns-resolver",)):
    """Our findings of a healthy visit with these resolvers in place of its own."""
    diagnosis = judge(visit(*parts, without=without)).diagnosis
    return [one for one in diagnosis.findings if one.code.startswith(OURS)]


def only(*parts):
    (one,) = found(*parts)
    return one


FAILURE = {"rcode": 2, "records": 0}
EXPIRED = ExtendedError(info_code=7, text="signature expired")
CUT = {"truncated": True, "records": 0, "size_bytes": 40}


def failing(rcode=2, **more):
    return resolver(answered=20, rcode=(rcode,) * 20, addresses=((),) * 20, **more)


@pytest.mark.parametrize(
    ("parts", "code"),
    [
        ((resolver(answered=0), dead_page("one"), dead_page("two")), "dns-silent"),
        ((failing(), dead_page("one"), dead_page("two")), "dns-failing"),
        (
            (resolver(answered=0, place=0), resolver(place=1, address=SECOND)),
            "dns-first-silent",
        ),
        (
            (resolver(place=0), resolver(answered=0, place=1, address=SECOND)),
            "dns-partly-silent",
        ),
        ((resolver(rtt_ms=(400.0,) * 20),), "dns-slow"),
        (
            (resolver(name=("doorstep-absent-1.invalid",) * 20),),
            "dns-rewritten",
        ),
        ((resolver(addresses=(("10.0.0.1",),) * 20),), "dns-private-answer"),
        ((resolver(check(P.TCP, LOST), check(P.TCP, LOST)),), "dns-tcp-blocked"),
        (
            (
                resolver(
                    check(P.CUT, **CUT),
                    *(check(P.LARGE, LOST) for _ in range(3)),
                    check(P.LARGE_TCP),
                ),
            ),
            "dns-large-answers-lost",
        ),
        (
            (resolver(check(P.CUT, size_bytes=40, records=0), check(P.LARGE)),),
            "dns-large-answers-lost",
        ),
        ((resolver(check(P.SIGNED, **FAILURE), check(P.SIGNED, **FAILURE)),), "dns-signed-refused"),
    ],
)
def test_each_fault_is_named_alone_and_in_the_operators_network(parts, code):
    one = only(*parts)
    assert (one.code, one.segment.value) == (code, "operator")
    assert one.values["resolver"] in {RESOLVER, SECOND}
    assert judge(visit(*parts, without=("dns-resolver",))).diagnosis.segment.value == "operator"


@pytest.mark.parametrize(
    "checks",
    [
        (),
        # RFC 7766 §5, RFC 6891, RFC 4035: everything as it should be.
        (
            check(P.TCP),
            check(P.EXTENDED),
            check(P.CUT, **CUT),
            check(P.LARGE),
            check(P.LARGE_TCP),
            check(P.SIGNED, authenticated=True),
            check(P.BOGUS, **FAILURE),
            check(P.UNCHECKED),
        ),
        # A line that loses one in twenty each way: one of the repeated queries came.
        (
            check(P.TCP, LOST),
            check(P.TCP),
            check(P.CUT, **CUT),
            check(P.LARGE, LOST),
            check(P.LARGE),
        ),
        # The name for long answers has none.
        (check(P.CUT, rcode=3, records=0), check(P.LARGE, rcode=3, records=0)),
    ],
)
def test_a_sound_resolver_has_no_finding(checks):
    assert found(resolver(*checks)) == []


def test_a_resolver_that_hands_on_wrong_signatures_is_advice_only():
    one = only(resolver(check(P.BOGUS), check(P.UNCHECKED)))
    assert (one.code, one.segment.value) == ("dns-not-validating", "none")


def test_a_resolver_that_answers_half_is_not_judged_by_single_queries():
    lost = (check(P.TCP, LOST), check(P.SIGNED, **FAILURE))
    assert [one.code for one in found(resolver(*lost, answered=10))] == ["dns-often-silent"]


@pytest.mark.parametrize(("dead", "cost_s"), [(1, 5.0), (2, 10.0)])
def test_what_a_dead_first_resolver_costs(dead, cost_s):
    # resolv.conf(5): 5 s for each before the next is asked.
    silent = [resolver(answered=0, place=n, address=f"203.0.113.{60 + n}") for n in range(dead)]
    one = only(*silent, resolver(place=dead))
    assert (one.values["cost_s"], one.values["resolver"]) == (cost_s, "203.0.113.60")


def test_what_lookups_cost_where_all_are_dead():
    # resolv.conf(5): two rounds of 5 s over two resolvers.
    one = only(resolver(answered=0, place=0), resolver(answered=0, place=1, address=SECOND))
    assert (one.code, one.values["lookup_s"]) == ("dns-silent", 20.0)


@pytest.mark.parametrize("outcome", [NameOutcome.REFUSED, NameOutcome.UNREACHABLE])
def test_a_first_resolver_that_refuses_at_once_costs_nothing(outcome):
    refusing = resolver(answered=0, place=0, address=SECOND, outcome=(outcome,) * 20)
    assert only(refusing, resolver(place=1)).code == "dns-partly-silent"


def test_the_order_is_the_laptops_not_that_of_the_answers():
    parts = (resolver(place=1), resolver(answered=0, place=0, address=SECOND))
    assert only(*parts).code == "dns-first-silent"


def test_slow_is_judged_at_the_resolver_in_use_and_without_the_lines_own_delay():
    slow = resolver(rtt_ms=(400.0,) * 20, place=1, address=SECOND)
    assert found(resolver(place=0), slow) == []
    # A line of 380 ms (a satellite's, say): the resolver adds 20.
    late = (server(rtt_ms=380.0), first_hop(rtt_ms=370.0))
    assert "dns-slow" not in {one.code for one in found(resolver(rtt_ms=(400.0,) * 20), *late)}


def test_a_busy_laptop_delays_many_answers_but_a_slow_resolver_all():
    busy = (calm(cpu_ratio=0.99),)
    late = (400.0,) * 20

    def codes(times):
        parts = visit(resolver(rtt_ms=times), without=("dns-resolver",))
        return [f.code for f in judge(parts, conditions=busy).diagnosis.findings]

    assert "dns-slow" in codes(late)
    assert "dns-slow" not in codes((12.0, *late[1:]))


def test_a_router_that_answers_names_itself_lies_in_the_home():
    one = only(resolver(addresses=(("192.168.7.7",),) * 20, address=GATEWAY))
    assert (one.segment.value, one.next_step) == ("home", "check-router-names")
    assert (one.values["name"], one.values["address"]) == ("www.example.com", "192.168.7.7")


@pytest.mark.parametrize(
    ("theirs", "said"),
    [
        ({"addresses": ("198.51.100.9",)}, ["dns-disagree"]),
        ({"rcode": 3, "records": 0, "addresses": ()}, ["dns-disagree"]),
        # One address of several in common: a site on several servers.
        ({"addresses": ("203.0.113.80", "203.0.113.99")}, []),
        ({"rcode": 2, "records": 0, "addresses": ()}, []),
    ],
)
def test_resolvers_must_agree_on_the_operators_own_names(theirs, said):
    ours = {"name": "portal.ternbay.example", "addresses": ("203.0.113.80",)}
    parts = (
        resolver(check(P.SAME, **ours), place=0),
        resolver(check(P.SAME, **{**ours, **theirs}), place=1, address=SECOND),
    )
    assert [one.code for one in found(*parts)] == said


def encrypted(outcome=OK, transport="tls", problem=None):
    queries = NameQueries(
        resolver="dns.ternbay.example",
        transport=transport,
        waiting_s=2.0,
        name=("www.example.com",),
        qtype=("A",),
        sent_s=(0.0,),
        rtt_ms=(9.0 if outcome is OK else None,),
        outcome=(outcome,),
        rcode=(0 if outcome is OK else None,),
        addresses=((),),
        problem=(problem,),
    )
    return measured(Kind.DNS, Role.RESOLVER, queries, id="dns-encrypted", method=f"dns-{transport}")


@pytest.mark.parametrize("transport", ["tls", "https"])
@pytest.mark.parametrize(
    ("outcome", "problem"),
    [(LOST, None), (NameOutcome.REFUSED, None), (NameOutcome.UNTRUSTED, "expired")],
)
def test_an_encrypted_resolver_that_cannot_be_used_is_named_with_its_trouble(
    transport, outcome, problem
):
    one = only(resolver(), encrypted(outcome, transport, problem))
    assert (one.code, one.segment.value) == ("encrypted-resolver-silent", "operator")
    assert (one.values["trouble"], one.values["certificate_has"]) == (outcome.value, problem)


def test_an_encrypted_resolver_is_no_promise_of_the_line():
    assert found(resolver(), encrypted()) == []
    conclusion = judge(visit(resolver(), encrypted(LOST), without=("dns-resolver",)))
    judged = [i for c in conclusion.assessment.criteria for i in c.measurements]
    assert "dns-encrypted" not in judged
    nameless = failed(
        Kind.DNS, Role.RESOLVER, "name-not-resolved", id="dns-encrypted", method="dns-tls"
    )
    assert only(resolver(), nameless).values["trouble"] == "name-not-resolved"


def test_a_resolvers_own_reason_stands_in_the_sentence():
    # RFC 8914 §4.8: 7 is Signature Expired.
    refused = check(P.SIGNED, extended_errors=(EXPIRED,), **FAILURE)
    one = only(resolver(refused))
    assert "signature has expired" in finding_sentence(one.code, one.values)
    told = finding_sentence(failing_code().code, failing_code().values)
    assert "SERVFAIL" in told


def failing_code():
    return only(failing(), dead_page("one"), dead_page("two"))


def test_every_finding_has_its_sentence_and_step():
    values = {"resolver": "2001:db8:ffff:ffff:ffff:ffff:ffff:ffff", "name": "n" * 60}
    values |= {"other": values["resolver"], "address": "192.168.100.100", "cost_s": 10.0}
    values |= {"rcode": 2, "extended_error": 22, "trouble": "untrusted", "median_ms": 400.0}
    values |= {"certificate_has": "unknown-issuer", "limit_ms": 100.0}
    for rule in RULES:
        if rule.code.startswith(OURS):
            said = finding_sentence(rule.code, values)
            assert said.endswith(".")
            assert len(said) <= SENTENCE
            assert "{" not in said
            assert step_texts(rule.next_step)[0]


@pytest.mark.parametrize(
    ("parts", "expected"),
    [
        ((dns(answered=50, sent=66),), ["dns-often-silent"]),
        # A line that loses packets loses queries too, and is told as that.
        ((dns(answered=50, sent=66), server(up=40), first_hop(up=10)), ["loss-past-modem"]),
        ((dns(answered=65, sent=66),), []),
    ],
    ids=["forgetful", "lossy line", "one miss"],
)
def test_a_verdict_that_names_decide_has_a_finding(parts, expected):
    found = judge(visit(*parts)).diagnosis.findings
    assert [one.code for one in found] == expected
