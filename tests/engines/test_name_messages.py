"""DNS messages as they lie on the wire: our questions octet by octet, published answers."""

import dns.message
import dns.rrset
import pytest

from agent.engines.name_messages import read_answer, write_question
from agent.errors import NameNotResolved
from agent.measurements import ExtendedError, NameOutcome
from agent.ports.names import NameQuestion

NAME = "example.com"
# RFC 1035 §4.1.2 and §3.1: labels with their lengths, type A (1), class IN (1).
QUESTION = bytes.fromhex("076578616d706c6503636f6d0000010001")
# RFC 6891 §6.1.2: root, type 41, UDP size 4096, extended RCODE and version 0, DO; RFC 8914 §2:
# option 15 of 2 octets, information code 22.
OPT_WITH_ERROR = bytes.fromhex("0000291000000080000006000f00020016")
# A pointer to offset 12 (RFC 1035 §4.1.4), A, IN, TTL 60, 4 octets, 192.0.2.7.
RECORD = bytes.fromhex("c00c000100010000003c0004c0000207")


def asked(**more):
    return NameQuestion(resolver="192.0.2.53", name=NAME, **more)


def head(query, flags, answers=0, additional=0):
    counts = (1, answers, 0, additional)
    return query.id.to_bytes(2) + flags.to_bytes(2) + b"".join(c.to_bytes(2) for c in counts)


def test_a_plain_question_octet_by_octet():
    wire = write_question(asked()).to_wire()
    # RFC 1035 §4.1.1: RD 0x0100; RFC 6840 §5.7: AD 0x0020 asks to be told of validation.
    assert wire[2:] == bytes.fromhex("01200001000000000000") + QUESTION


def test_an_extended_question_octet_by_octet():
    wire = write_question(asked(udp_bytes=1280)).to_wire()
    # RFC 6891 §6.1.2 with a size of 1280 (0x0500).
    assert wire[-11:] == bytes.fromhex("0000290500000000000000")
    assert wire[2:12] == bytes.fromhex("01200001000000000001")


def test_signatures_and_no_validation_are_asked_for_by_their_bits():
    wire = write_question(asked(udp_bytes=1232, signatures=True, unchecked=True)).to_wire()
    # RFC 3225 §3: DO is the first bit of the third and fourth octet of the TTL field.
    assert wire[-11:] == bytes.fromhex("00002904d0000080000000")
    # RFC 4035 §3.2.2: CD 0x0010.
    assert wire[2:4] == bytes.fromhex("0130")


@pytest.mark.parametrize("name", ["a" * 64 + ".example", "a..example"])
def test_names_that_cannot_be_written_are_refused(name):
    with pytest.raises(NameNotResolved):
        write_question(NameQuestion(resolver="192.0.2.53", name=name))


def test_an_answer_octet_by_octet():
    query = write_question(asked())
    # QR, RD, RA.
    answer = read_answer(head(query, 0x8180, 1) + QUESTION + RECORD, query)
    assert (answer.outcome, answer.rcode, answer.addresses) == (
        NameOutcome.ANSWERED,
        0,
        ("192.0.2.7",),
    )
    assert (answer.records, answer.size_bytes, answer.offered_bytes) == (1, 45, None)
    assert (answer.authenticated, answer.truncated) == (False, False)


def test_an_extended_error_octet_by_octet():
    query = write_question(asked(udp_bytes=1232))
    # SERVFAIL (2) with the OPT record of RFC 8914.
    wire = head(query, 0x8182, additional=1) + QUESTION + OPT_WITH_ERROR
    answer = read_answer(wire, query)
    assert (answer.rcode, answer.offered_bytes) == (2, 4096)
    assert answer.extended_errors == (ExtendedError(info_code=22),)


@pytest.mark.parametrize(
    ("told", "meant"), [(0, 512), (100, 512), (511, 512), (512, 512), (1232, 1232)]
)
def test_a_size_below_512_means_512(told, meant):
    # RFC 6891 §6.2.3.
    query = write_question(asked(udp_bytes=1232))
    opt = bytes.fromhex("000029") + told.to_bytes(2) + bytes(6)
    answer = read_answer(head(query, 0x8180, additional=1) + QUESTION + opt, query)
    assert answer.offered_bytes == meant
    # A plain number: the library's own one is a name of a class that cannot be copied.
    assert type(answer.offered_bytes) is int


def test_a_resolver_without_the_extension_says_so_without_a_record():
    # RFC 6891 §7: FORMERR (1) and no OPT record; the question may be missing.
    query = write_question(asked(udp_bytes=1232))
    wire = query.id.to_bytes(2) + bytes.fromhex("81810000000000000000")
    answer = read_answer(wire, query)
    assert (answer.rcode, answer.offered_bytes) == (1, None)


def test_an_error_text_is_bounded():
    query = write_question(asked(udp_bytes=1232))
    text = b"x" * 500
    option = bytes.fromhex("000f") + (len(text) + 2).to_bytes(2) + bytes.fromhex("0006") + text
    opt = bytes.fromhex("00002904d000000000") + len(option).to_bytes(2) + option
    answer = read_answer(head(query, 0x8182, additional=1) + QUESTION + opt, query)
    (error,) = answer.extended_errors
    assert (error.info_code, len(error.text)) == (6, 120)


def test_addresses_count_only_along_the_chain_of_the_name():
    # RFC 1034 §3.6.2: an alias, its target, and an address nobody asked for.
    query = write_question(asked())
    reply = dns.message.make_response(query)
    reply.answer += [
        dns.rrset.from_text("example.com.", 60, "IN", "CNAME", "quay.example.com."),
        dns.rrset.from_text("quay.example.com.", 60, "IN", "A", "192.0.2.10"),
        dns.rrset.from_text("bank.example.com.", 60, "IN", "A", "203.0.113.66"),
    ]
    assert read_answer(reply.to_wire(), query).addresses == ("192.0.2.10",)


def test_another_question_is_no_answer():
    query = write_question(asked())
    other = QUESTION.replace(b"example", b"exbmple")
    assert read_answer(head(query, 0x8180, 1) + other + RECORD, query) is None
    assert read_answer(head(query, 0x0100, 1) + QUESTION + RECORD, query) is None
