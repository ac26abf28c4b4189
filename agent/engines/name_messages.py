"""DNS messages by dnspython: our questions written, anyone's answers read."""

from __future__ import annotations

import secrets

import dns.edns
import dns.exception
import dns.flags
import dns.message
import dns.rdatatype

from agent.errors import NameNotResolved
from agent.measurements import ExtendedError, NameOutcome
from agent.ports.names import NameAnswer, NameQuestion

MOST_ADDRESSES = 16
MOST_ERRORS = 4
LONGEST_TEXT = 120
ADDRESS_TYPES = (dns.rdatatype.A, dns.rdatatype.AAAA)
LEAST_UDP = 512
"""A size below means this one (RFC 6891 §6.2.3)."""

NO_OPT = -1
"""What dnspython says of a message without an OPT record, instead of a version of EDNS."""


def write_question(asked: NameQuestion) -> dns.message.Message:
    """Return a query with a random identifier (RFC 5452 §9.2). Raises NameNotResolved.

    It asks to be told of validation: AD with or without DO (RFC 6840 §5.7).
    """
    try:
        query = dns.message.make_query(asked.name, asked.qtype)
    except (dns.exception.DNSException, ValueError) as error:
        problem = f"no valid name: {error}"
        raise NameNotResolved(name=asked.name, problem=problem) from error
    query.id = secrets.randbelow(1 << 16)
    query.flags |= dns.flags.AD | (dns.flags.CD if asked.unchecked else 0)
    if asked.udp_bytes is not None:
        wants = dns.flags.DO if asked.signatures else 0
        query.use_edns(0, ednsflags=wants, payload=asked.udp_bytes)
    return query


def read_answer(data: bytes, question: dns.message.Message) -> NameAnswer | None:
    """Return the answer to a question; None for anything else, however broken.

    Identifier and question must be those sent (RFC 5452 §9.1); addresses count only along the
    chain of names that starts at the one asked for (RFC 1034 §3.6.2).
    """
    try:
        message = dns.message.from_wire(data, ignore_trailing=True, raise_on_truncation=False)
        if message.id != question.id or not question.is_response(message):
            return None
        return _answer(message, question, len(data))
    except (dns.exception.DNSException, ValueError, IndexError, KeyError, AttributeError):
        return None


def _answer(message: dns.message.Message, question: dns.message.Message, size: int) -> NameAnswer:
    qtype = question.question[0].rdtype
    found = _records(message)
    texts = found[:MOST_ADDRESSES]
    return NameAnswer(
        outcome=NameOutcome.ANSWERED,
        rcode=int(message.rcode()),
        addresses=texts if qtype in ADDRESS_TYPES else (),
        names=tuple(t.rstrip(".") for t in texts) if qtype == dns.rdatatype.PTR else (),
        authenticated=bool(message.flags & dns.flags.AD),
        truncated=bool(message.flags & dns.flags.TC),
        records=len(found),
        size_bytes=size,
        offered_bytes=None if message.edns == NO_OPT else max(LEAST_UDP, int(message.payload)),
        extended_errors=_errors(message),
    )


def _records(message: dns.message.Message) -> tuple[str, ...]:
    if not (isinstance(message, dns.message.QueryMessage) and message.question):
        return ()
    answer = message.resolve_chaining().answer
    return tuple(item.to_text() for item in answer) if answer is not None else ()


def _errors(message: dns.message.Message) -> tuple[ExtendedError, ...]:
    told = (o for o in message.options if isinstance(o, dns.edns.EDEOption))
    errors = (
        ExtendedError(info_code=int(o.code), text=(o.text or "")[:LONGEST_TEXT]) for o in told
    )
    return tuple(errors)[:MOST_ERRORS]
