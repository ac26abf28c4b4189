"""The single queries that show, beside a series, what else a resolver does."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import zip_longest

from agent.measurements import NameCheck, NamePurpose, NameTransport
from agent.ports.names import NameAnswer, NameQuestion
from agent.settings.model import DnsPlan, NameTests

SAFE_UDP_BYTES = 1232
"""What fits every IPv6 path unfragmented: 1280 less 48 (RFC 8200 §5, RFC 6891 §6.2.5)."""

TWICE = 2


@dataclass(frozen=True, slots=True)
class CheckQuestion:
    """One such query and what it is for."""

    purpose: NamePurpose
    question: NameQuestion


def check_questions(
    resolver: str, plan: DnsPlan, tests: NameTests, test_names: Sequence[str]
) -> tuple[CheckQuestion, ...]:
    """Return the queries in the order they are sent: every check once, then all again.

    Those over TCP, which repeats by itself, are sent at most twice. There is none without a plan
    for them or without a name to ask for.
    """
    if not plan.checks or not test_names:
        return ()
    kinds = tuple(_kinds(resolver, tests, test_names[0]))
    rounds = [[kind] * _times(kind, plan.repeats) for kind in kinds]
    return tuple(kind for turn in zip_longest(*rounds) for kind in turn if kind is not None)


def as_check(asked: CheckQuestion, sent_s: float, answer: NameAnswer) -> NameCheck:
    """Return the entry of one query."""
    return NameCheck(
        purpose=asked.purpose,
        name=asked.question.name,
        qtype=asked.question.qtype,
        transport=asked.question.transport,
        sent_s=sent_s,
        outcome=answer.outcome,
        rtt_ms=answer.rtt_ms,
        rcode=answer.rcode,
        records=answer.records,
        addresses=answer.addresses,
        authenticated=answer.authenticated,
        truncated=answer.truncated,
        size_bytes=answer.size_bytes,
        offered_bytes=answer.offered_bytes,
        extended_errors=answer.extended_errors,
        foreign=answer.foreign,
    )


def _times(kind: CheckQuestion, repeats: int) -> int:
    once = kind.question.transport is NameTransport.TCP or kind.purpose is NamePurpose.SAME
    return min(TWICE, repeats) if once else repeats


def _kinds(resolver: str, tests: NameTests, name: str) -> Iterator[CheckQuestion]:
    plain = NameQuestion(resolver=resolver, name=name)
    extended = replace(plain, udp_bytes=SAFE_UDP_BYTES)
    yield CheckQuestion(NamePurpose.TCP, _by_tcp(plain))
    yield CheckQuestion(NamePurpose.EXTENDED, extended)
    signatures = replace(extended, signatures=True)
    if tests.signed:
        yield CheckQuestion(NamePurpose.SIGNED, replace(signatures, name=tests.signed))
    if tests.bogus:
        bogus = replace(signatures, name=tests.bogus)
        yield CheckQuestion(NamePurpose.BOGUS, bogus)
        yield CheckQuestion(NamePurpose.UNCHECKED, replace(bogus, unchecked=True))
    if tests.long:
        long = replace(plain, name=tests.long, qtype=tests.long_type)
        yield CheckQuestion(NamePurpose.CUT, long)
        yield CheckQuestion(NamePurpose.LARGE, replace(long, udp_bytes=SAFE_UDP_BYTES))
        yield CheckQuestion(NamePurpose.LARGE_TCP, _by_tcp(long))
    for same in tests.same:
        yield CheckQuestion(NamePurpose.SAME, replace(plain, name=same))


def _by_tcp(question: NameQuestion) -> NameQuestion:
    return replace(question, transport=NameTransport.TCP)
