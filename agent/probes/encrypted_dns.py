"""Queries to an encrypted resolver, one after the other, each on a connection of its own."""

from __future__ import annotations

from collections.abc import Sequence

from agent.clock import Timeline
from agent.errors import CannotMeasure
from agent.measurements import (
    Kind,
    Measurement,
    NameQueries,
    NameTransport,
    Reason,
    Role,
    StampClock,
    State,
)
from agent.ports.names import AskingPort, NameAnswer, NameQuestion
from agent.ports.running import Running
from agent.settings.model import DnsPlan, EncryptedResolver

METHODS = {"tls": "dns-tls", "https": "dns-https"}


def measure_encrypted_dns(
    names: AskingPort,
    resolver: EncryptedResolver,
    plan: DnsPlan,
    *,
    test_names: Sequence[str],
    timeline: Timeline,
    within_s: float,
    running: Running,
) -> Measurement:
    """Return the queries to one encrypted resolver; after one without an answer none is sent.

    `failed` with its reason where the resolver's own name is not found.
    """
    started_s = timeline.now_s()
    asked: list[tuple[NameQuestion, float, NameAnswer]] = []
    reason: Reason | None = None if test_names else Reason(code="no-test-names")
    for number in range(plan.encrypted_queries if test_names else 0):
        left_s = started_s + within_s - timeline.now_s()
        if running.stopped() or left_s < plan.waiting_s:
            values = {"after_s": within_s}
            stopped = running.stopped()
            reason = Reason(code="stopped") if stopped else Reason(code="time-limit", values=values)
            break
        question = NameQuestion(
            resolver=resolver.host,
            name=test_names[number % len(test_names)],
            transport=NameTransport(resolver.transport),
        )
        sent_s = timeline.now_s()
        try:
            answer = names.ask(question, plan.waiting_s)
        except CannotMeasure as error:
            reason = Reason.of(error)
            break
        asked.append((question, sent_s, answer))
        if answer.rcode is None:
            break
    state = State.COMPLETE if reason is None else State.PARTIAL
    return Measurement(
        kind=Kind.DNS,
        role=Role.RESOLVER,
        state=state if asked else State.FAILED,
        method=METHODS[resolver.transport],
        started_s=started_s,
        duration_s=timeline.now_s() - started_s,
        address=resolver.address,
        clock=StampClock.USER,
        reason=reason,
        observed=_columns(resolver, plan, asked) if asked else None,
    )


def _columns(
    resolver: EncryptedResolver,
    plan: DnsPlan,
    asked: Sequence[tuple[NameQuestion, float, NameAnswer]],
) -> NameQueries:
    answers = [answer for _, _, answer in asked]
    return NameQueries(
        resolver=resolver.host,
        transport=resolver.transport,
        waiting_s=plan.waiting_s,
        name=tuple(question.name for question, _, _ in asked),
        qtype=tuple(question.qtype for question, _, _ in asked),
        sent_s=tuple(sent_s for _, sent_s, _ in asked),
        rtt_ms=tuple(a.rtt_ms for a in answers),
        outcome=tuple(a.outcome for a in answers),
        rcode=tuple(a.rcode for a in answers),
        addresses=tuple(a.addresses for a in answers),
        authenticated=tuple(a.authenticated for a in answers),
        truncated=tuple(a.truncated for a in answers),
        setup_ms=tuple(a.setup_ms for a in answers),
        problem=tuple(a.problem for a in answers),
    )
