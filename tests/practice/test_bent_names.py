"""Resolvers that are bent: octets of their answers, and what the practice line serves of names."""

import dns.message
import dns.rcode
import dns.rdatatype
import dns.rrset
import pytest
from hypothesis import given
from hypothesis import strategies as st

from agent.practice import faults_naming
from agent.practice.addresses import LONG_NAME, LONG_TEXTS, plan_addresses
from agent.practice.bent_names import failure
from agent.practice.faults import CATALOGUE
from agent.practice.line import Severity
from agent.practice.strikes import STRIKES
from agent.practice.strikes_naming import PRIVATE

LABEL = st.text(alphabet="abcdefghijklmnopqrstuvwxyz0123456789-", min_size=1, max_size=63).filter(
    lambda text: "--" not in text and not text.startswith("-") and not text.endswith("-")
)


@given(st.lists(LABEL, min_size=1, max_size=3), st.sampled_from(["A", "AAAA", "TXT"]))
def test_a_failure_answers_the_question_that_was_asked(labels, qtype):
    # dnspython, an independent coder, takes it as the answer to its own query.
    query = dns.message.make_query(".".join(labels), qtype, use_edns=0)
    answer = dns.message.from_wire(failure(query.to_wire()))
    assert query.is_response(answer)
    assert answer.rcode() == dns.rcode.SERVFAIL
    assert answer.question == query.question


def test_the_long_answer_is_cut_without_and_whole_with_the_extension():
    # RFC 1035 §2.3.4: 512 octets; 1232 is what a check allows.
    query = dns.message.make_query(LONG_NAME, "TXT")
    reply = dns.message.make_response(query)
    texts = " ".join(f'"{text}"' for text in LONG_TEXTS)
    reply.answer.append(dns.rrset.from_text(f"{LONG_NAME}.", 0, "IN", "TXT", texts))
    assert 512 + 100 < len(reply.to_wire()) < 1232 - 50
    assert all("," not in text for text in LONG_TEXTS)


def test_a_router_hands_out_the_operators_resolver_unless_told_otherwise():
    addresses = plan_addresses(3, 1)
    assert addresses.resolvers == (addresses.resolver,)


def test_the_private_address_is_nobodys_on_any_line():
    # The core takes 100.64/16 to 100.126/16 of the shared range (RFC 6598).
    taken = {pair[1] for seed in range(50) for pair in plan_addresses(seed, 3).core}
    assert PRIVATE.startswith("100.127.")
    assert not any(address.startswith("100.127.") for address in taken)


@pytest.mark.parametrize("fault", faults_naming.FAULTS, ids=lambda fault: fault.name)
def test_every_fault_of_names_can_be_played_and_says_what_names_it(fault):
    assert fault in CATALOGUE
    assert set(fault.effects) == set(Severity)
    for effect in fault.effects.values():
        assert effect.prepare in STRIKES
    assert all(code.startswith("dns-") for code in fault.findings)
