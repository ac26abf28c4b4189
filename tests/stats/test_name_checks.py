"""What single queries show of a resolver; expected outcomes from the RFCs named beside them."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from agent.measurements import (
    ExtendedError,
    NameCheck,
    NameOutcome,
    NamePurpose,
    NameQueries,
    NameTransport,
)
from agent.stats.name_checks import is_private
from agent.stats.names import dns_statistics

OK, LOST = NameOutcome.ANSWERED, NameOutcome.LOST
P = NamePurpose
NAME = "www.tern.example"


def check(purpose, outcome=OK, **more):
    over_tcp = purpose in (P.TCP, P.LARGE_TCP)
    fields = {
        "name": NAME,
        "qtype": "A",
        "transport": NameTransport.TCP if over_tcp else NameTransport.UDP,
        "sent_s": 0.0,
        "rcode": 0 if outcome is OK else None,
        "records": 1 if outcome is OK else 0,
    }
    return NameCheck(purpose=purpose, outcome=outcome, **{**fields, **more})


def shown(*checks, addresses=("203.0.113.80",), **more):
    queries = NameQueries(
        resolver="192.0.2.53",
        transport="udp",
        waiting_s=2.0,
        name=(NAME, NAME),
        qtype=("A", "AAAA"),
        sent_s=(0.0, 0.1),
        rtt_ms=(9.0, 9.0),
        outcome=(OK, OK),
        rcode=(0, 0),
        addresses=(addresses, ()),
        checks=checks,
        **more,
    )
    return dns_statistics(queries)


def test_nothing_is_claimed_of_what_was_not_asked():
    found = shown()
    claims = ("tcp", "extended", "extends", "cuts", "large", "large_tcp", "signed", "refuses_bogus")
    assert [getattr(found, name) for name in claims] == [None] * len(claims)
    assert (found.private, found.same, found.extended_errors) == ((), (), ())


def test_both_kinds_of_address_are_counted_apart():
    assert (shown().aaaa_sent, shown().aaaa_answered) == (1, 1)


@pytest.mark.parametrize(
    ("outcomes", "said"), [((LOST, OK), True), ((LOST, LOST), False), ((OK, OK), True)]
)
def test_one_answer_of_several_proves_the_way_open(outcomes, said):
    assert shown(*(check(P.TCP, o) for o in outcomes)).tcp is said
    assert shown(*(check(P.EXTENDED, o) for o in outcomes)).extended is said


def test_an_extension_that_is_ignored_is_not_lost():
    # RFC 6891 §7: FORMERR without an OPT record.
    found = shown(check(P.EXTENDED, rcode=1, records=0))
    assert (found.extended, found.extends, found.offered_bytes) == (True, False, None)
    assert shown(check(P.EXTENDED, LOST)).extends is None
    found = shown(check(P.EXTENDED, offered_bytes=1232))
    assert (found.extends, found.offered_bytes) == (True, 1232)


LONG = {"size_bytes": 1100, "records": 1}
CUT = {"size_bytes": 40, "records": 0, "truncated": True}
NONE = {"size_bytes": 40, "records": 0, "rcode": 3}


@pytest.mark.parametrize(
    ("plain", "large", "tcp", "said"),
    [
        # RFC 1035 §4.2.1: cut over UDP, whole over TCP; RFC 6891 §4.3: whole with a larger size.
        (check(P.CUT, **CUT), check(P.LARGE, **LONG), check(P.LARGE_TCP, **LONG), (True,) * 3),
        # RFC 6891 §6.2.6: something on the way lets no more than 512 octets pass.
        (
            check(P.CUT, **CUT),
            check(P.LARGE, LOST),
            check(P.LARGE_TCP, **LONG),
            (True, False, True),
        ),
        # TCP does not pass.
        (
            check(P.CUT, **CUT),
            check(P.LARGE, **LONG),
            check(P.LARGE_TCP, LOST),
            (True, True, False),
        ),
        # Cut without the bit that says so.
        (
            check(P.CUT, size_bytes=40, records=0),
            check(P.LARGE, **LONG),
            check(P.LARGE_TCP, **LONG),
            (False, True, True),
        ),
        # Cut in good order though more was allowed: no loss.
        (
            check(P.CUT, **CUT),
            check(P.LARGE, **CUT),
            check(P.LARGE_TCP, **LONG),
            (True, None, True),
        ),
        # There is no such long answer: nothing can be said.
        (check(P.CUT, **NONE), check(P.LARGE, **NONE), check(P.LARGE_TCP, **NONE), (None,) * 3),
        (check(P.CUT, LOST), check(P.LARGE, LOST), check(P.LARGE_TCP, LOST), (None,) * 3),
    ],
)
def test_long_answers(plain, large, tcp, said):
    found = shown(plain, large, tcp)
    assert (found.cuts, found.large, found.large_tcp) == said


SIGNED = {"authenticated": True}
UNSIGNED = {"authenticated": False}
FAILED = {"rcode": 2, "records": 0}


@pytest.mark.parametrize(
    ("checks", "said"),
    [
        # RFC 4035 §3.2.3 and §5.5: AD on what validates, RCODE 2 for what does not.
        (
            (check(P.SIGNED, **SIGNED), check(P.BOGUS, **FAILED), check(P.UNCHECKED)),
            (True, False, True),
        ),
        # Does not validate: no AD, and the wrong signature is handed on.
        ((check(P.SIGNED, **UNSIGNED), check(P.BOGUS), check(P.UNCHECKED)), (False, False, False)),
        # Refuses even what is sound.
        ((check(P.SIGNED, **FAILED), check(P.BOGUS, **FAILED)), (None, True, None)),
        # One answer of two is a failure: not refused.
        ((check(P.SIGNED, **FAILED), check(P.SIGNED, **SIGNED)), (True, False, None)),
        # The broken name fails without validation too, so its failure proves nothing.
        ((check(P.BOGUS, **FAILED), check(P.UNCHECKED, **FAILED)), (None, None, None)),
        ((check(P.SIGNED, LOST),), (None, None, None)),
    ],
)
def test_signatures(checks, said):
    found = shown(*checks)
    assert (found.signed, found.signed_refused, found.refuses_bogus) == said


def test_extended_errors_are_kept_once():
    # RFC 8914 §4.7: 6 is DNSSEC Bogus.
    bogus = ExtendedError(info_code=6, text="signature expired")
    found = shown(*(check(P.BOGUS, extended_errors=(bogus,), **FAILED) for _ in range(3)))
    assert found.extended_errors == ((6, "signature expired"),)


@pytest.mark.parametrize(
    ("address", "said"),
    [
        # RFC 1918 §3, at its edges.
        ("10.0.0.1", True),
        ("172.15.255.255", False),
        ("172.16.0.0", True),
        ("172.31.255.255", True),
        ("172.32.0.0", False),
        ("192.168.255.255", True),
        ("192.169.0.0", False),
        # RFC 6598 §7, RFC 3927 §2.1, RFC 1122 §3.2.1.3.
        ("100.63.255.255", False),
        ("100.64.0.0", True),
        ("100.127.255.255", True),
        ("169.254.7.7", True),
        ("127.0.0.53", True),
        ("0.0.0.0", True),
        # RFC 4193 §3.1, RFC 4291 §2.5.2, §2.5.3, §2.5.5.2, §2.5.6.
        ("fd00::1", True),
        ("::", True),
        ("::1", True),
        ("::ffff:10.0.0.1", True),
        ("::ffff:203.0.113.1", False),
        ("fe80::1", True),
        ("2001:db8::1", False),
        ("203.0.113.9", False),
        ("no address", False),
    ],
)
def test_addresses_of_no_public_name(address, said):
    assert is_private(address) is said
    expected = ((NAME, address),) if said else ()
    assert shown(addresses=(address,)).private == expected


def test_a_name_that_may_be_private_is_excepted():
    found = shown(addresses=("10.0.0.1",), private_names=("WWW.tern.example.",))
    assert found.private == ()


def test_names_to_be_answered_alike_are_kept_with_their_answers():
    one = check(P.SAME, name="a.tern.example", addresses=("203.0.113.2", "203.0.113.1"))
    gone = check(P.SAME, name="b.tern.example", rcode=3, records=0)
    lost = check(P.SAME, LOST, name="c.tern.example")
    failed = check(P.SAME, name="d.tern.example", **FAILED)
    assert shown(one, gone, lost, failed).same == (
        ("a.tern.example", ("203.0.113.1", "203.0.113.2")),
        ("b.tern.example", ()),
    )


@given(
    st.lists(
        st.tuples(st.sampled_from(list(P)), st.sampled_from(list(NameOutcome)), st.integers(0, 23)),
        max_size=12,
    )
)
def test_whatever_came_is_reduced(parts):
    checks = [
        check(p, o, rcode=code if o is OK else None, truncated=bool(code % 2))
        for p, o, code in parts
    ]
    found = shown(*checks)
    assert found.sent == 2
    asked = {p for p, _, _ in parts}
    assert (found.extended is None) == (P.EXTENDED not in asked)
