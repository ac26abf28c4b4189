"""Queries to one resolver on a fixed send clock, one entry per query, losses included."""

from __future__ import annotations

import math
import secrets
from collections.abc import Callable, Sequence
from concurrent.futures import Future, ThreadPoolExecutor
from dataclasses import dataclass

from agent.clock import Timeline
from agent.errors import CannotMeasure
from agent.measurements import (
    ABSENT_LABEL,
    Kind,
    Measurement,
    NameQueries,
    Reason,
    Role,
    StampClock,
    State,
)
from agent.ports.names import NameAnswer, NamesPort
from agent.ports.running import Running
from agent.settings.model import DnsPlan

METHOD = "dns-udp"
QTYPE = "A"
NEVER_DELEGATED = "invalid"
EVERY = 10
"""Every tenth name must not exist: enough to see rewriting, too few to disturb the resolver."""


@dataclass(frozen=True, slots=True, kw_only=True)
class _Asked:
    name: str
    sent_s: float
    answer: Future[NameAnswer]


@dataclass(frozen=True, slots=True, kw_only=True)
class _Run:
    plan: DnsPlan
    timeline: Timeline
    ends_s: float
    running: Running


def measure_dns(
    names: NamesPort,
    resolver: str,
    plan: DnsPlan,
    *,
    test_names: Sequence[str],
    timeline: Timeline,
    within_s: float,
    running: Running,
    token: Callable[[], str] = lambda: secrets.token_hex(6),
) -> Measurement:
    """Return the queries to one resolver; `partial` where they were cut short.

    A query is only sent while its whole waiting time fits into `within_s`. Answers do not hold up
    the next query. `token` makes the random part of names that must not exist.
    """
    started_s = timeline.now_s()
    if not test_names:
        return _measurement(resolver, timeline, started_s, None, Reason(code="no-test-names"))
    run = _Run(plan=plan, timeline=timeline, ends_s=started_s + within_s, running=running)
    questions = question_names(test_names, plan.queries, token)
    flying = min(plan.queries, math.ceil(plan.waiting_s / plan.interval_s) + 1)
    with ThreadPoolExecutor(max_workers=flying) as pool:

        def ask(name: str) -> _Asked:
            answer = pool.submit(names.query, resolver, name, QTYPE, plan.waiting_s)
            return _Asked(name=name, sent_s=timeline.now_s(), answer=answer)

        asked, cut = _send(ask, questions, run)
    try:
        observed = _columns(resolver, plan, asked)
    except CannotMeasure as error:
        return _measurement(resolver, timeline, started_s, None, Reason.of(error))
    return _measurement(resolver, timeline, started_s, observed, cut)


def question_names(
    test_names: Sequence[str], count: int, token: Callable[[], str]
) -> tuple[str, ...]:
    """Return `count` names: the given ones in turn, and among them some that must not exist.

    Those stand in turn in the zone of a given name, where a resolver has to look, and under a
    suffix that is never delegated (RFC 2606 §2, RFC 6761 §6.4), where no zone's wildcard answers.
    """
    given = [test_names[i % len(test_names)] for i in range(count)]
    places = [i for i in range(count) if i % EVERY == EVERY - 1 or 0 < i == count - 1]
    for turn, place in enumerate(places):
        zone = NEVER_DELEGATED if turn % 2 else zone_of(given[place])
        given[place] = f"{ABSENT_LABEL}{token()}.{zone}"
    return tuple(given)


def zone_of(name: str) -> str:
    """Return the parent of a name, or the name itself where the parent is a bare suffix."""
    labels = name.rstrip(".").split(".")
    return ".".join(labels[1:] if len(labels) > 2 else labels)


def _send(
    ask: Callable[[str], _Asked], questions: Sequence[str], run: _Run
) -> tuple[list[_Asked], Reason | None]:
    """Return what was sent, and why the rest was not."""
    asked: list[_Asked] = []
    timeline, begun_s = run.timeline, run.timeline.now_s()
    for number, name in enumerate(questions):
        timeline.sleep(begun_s + number * run.plan.interval_s - timeline.now_s())
        if run.running.stopped():
            return asked, Reason(code="stopped")
        if timeline.now_s() + run.plan.waiting_s > run.ends_s:
            return asked, Reason(code="time-limit", values={"after_s": run.ends_s - begun_s})
        asked.append(ask(name))
    return asked, None


def _columns(resolver: str, plan: DnsPlan, asked: Sequence[_Asked]) -> NameQueries | None:
    answers = [one.answer.result() for one in asked]
    if not answers:
        return None
    return NameQueries(
        resolver=resolver,
        transport="udp",
        waiting_s=plan.waiting_s,
        name=tuple(one.name for one in asked),
        qtype=(QTYPE,) * len(asked),
        sent_s=tuple(one.sent_s for one in asked),
        rtt_ms=tuple(a.rtt_ms for a in answers),
        outcome=tuple(a.outcome for a in answers),
        rcode=tuple(a.rcode for a in answers),
        addresses=tuple(a.addresses for a in answers),
        authenticated=tuple(a.authenticated for a in answers),
        truncated=tuple(a.truncated for a in answers),
    )


def _measurement(
    resolver: str,
    timeline: Timeline,
    started_s: float,
    observed: NameQueries | None,
    reason: Reason | None,
) -> Measurement:
    state = State.COMPLETE if reason is None else State.PARTIAL
    return Measurement(
        kind=Kind.DNS,
        role=Role.RESOLVER,
        state=State.FAILED if observed is None else state,
        method=METHOD,
        started_s=started_s,
        duration_s=timeline.now_s() - started_s,
        family=6 if ":" in resolver else 4,
        address=resolver,
        clock=StampClock.USER,
        reason=reason,
        observed=observed,
    )
