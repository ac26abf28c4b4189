"""Queries to one resolver on a fixed send clock, one entry per query, losses included."""

from __future__ import annotations

import math
import secrets
from collections.abc import Callable, Sequence
from concurrent.futures import Future, ThreadPoolExecutor
from dataclasses import dataclass, field

from agent.clock import Timeline
from agent.errors import CannotMeasure
from agent.measurements import (
    ABSENT_LABEL,
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
from agent.probes.name_checks import CheckQuestion, as_check, check_questions
from agent.settings.model import DnsPlan, NameTests

METHOD = "dns-udp"
QTYPES = ("A", "AAAA")
NEVER_DELEGATED = "invalid"
EVERY = 10
"""Every tenth name must not exist: enough to see rewriting, too few to disturb the resolver."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Target:
    """The resolver asked: its address, its place in the laptop's list, what it is asked for."""

    resolver: str
    test_names: Sequence[str]
    tests: NameTests = field(default_factory=NameTests)
    place: int | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class _Asked:
    question: NameQuestion
    check: CheckQuestion | None
    sent_s: float
    answer: Future[NameAnswer]


@dataclass(frozen=True, slots=True, kw_only=True)
class _Run:
    plan: DnsPlan
    timeline: Timeline
    ends_s: float
    running: Running


def measure_dns(
    names: AskingPort,
    target: Target,
    plan: DnsPlan,
    *,
    timeline: Timeline,
    within_s: float,
    running: Running,
    token: Callable[[], str] = lambda: secrets.token_hex(6),
) -> Measurement:
    """Return the queries to one resolver; `partial` where they were cut short.

    A query is only sent while its whole waiting time fits into `within_s`. Answers do not hold up
    the next query, and the checks are sent half way between those of the series. `token` makes the
    random part of names that must not exist.
    """
    started_s = timeline.now_s()
    if not target.test_names:
        reason = Reason(code="no-test-names")
        return _measurement(target.resolver, timeline, started_s, None, reason)
    run = _Run(plan=plan, timeline=timeline, ends_s=started_s + within_s, running=running)
    series = series_questions(target.resolver, target.test_names, plan.queries, token)
    checks = check_questions(target.resolver, plan, target.tests, target.test_names)
    flying = math.ceil(plan.waiting_s / plan.interval_s) + 1
    most = min(len(series), flying) + min(len(checks), flying)
    with ThreadPoolExecutor(max_workers=most) as pool:

        def ask(question: NameQuestion, check: CheckQuestion | None) -> _Asked:
            answer = pool.submit(names.ask, question, plan.waiting_s)
            return _Asked(question=question, check=check, sent_s=timeline.now_s(), answer=answer)

        asked, cut = _send(ask, series, checks, run)
    try:
        observed = _columns(target, plan, asked)
    except CannotMeasure as error:
        return _measurement(target.resolver, timeline, started_s, None, Reason.of(error))
    return _measurement(target.resolver, timeline, started_s, observed, cut)


def series_questions(
    resolver: str, test_names: Sequence[str], count: int, token: Callable[[], str]
) -> tuple[NameQuestion, ...]:
    """Return the queries of the series: each name for both kinds of address, in turn.

    Names that must not exist are asked for their IPv4 addresses, which is what rewriting gives.
    """
    names = question_names(test_names, count, token)
    return tuple(
        NameQuestion(resolver=resolver, name=name, qtype=_qtype(name, number))
        for number, name in enumerate(names)
    )


def question_names(
    test_names: Sequence[str], count: int, token: Callable[[], str]
) -> tuple[str, ...]:
    """Return `count` names: the given ones twice each in turn, and some that must not exist.

    Those stand in turn in the zone of a given name, where a resolver has to look, and under a
    suffix that is never delegated (RFC 2606 §2, RFC 6761 §6.4), where no zone's wildcard answers.
    """
    given = [test_names[i // len(QTYPES) % len(test_names)] for i in range(count)]
    places = [i for i in range(count) if i % EVERY == EVERY - 1 or 0 < i == count - 1]
    for turn, place in enumerate(places):
        zone = NEVER_DELEGATED if turn % 2 else zone_of(given[place])
        given[place] = f"{ABSENT_LABEL}{token()}.{zone}"
    return tuple(given)


def zone_of(name: str) -> str:
    """Return the parent of a name, or the name itself where the parent is a bare suffix."""
    labels = name.rstrip(".").split(".")
    return ".".join(labels[1:] if len(labels) > 2 else labels)


def _qtype(name: str, number: int) -> str:
    return QTYPES[0] if name.startswith(ABSENT_LABEL) else QTYPES[number % len(QTYPES)]


def _send(
    ask: Callable[[NameQuestion, CheckQuestion | None], _Asked],
    series: Sequence[NameQuestion],
    checks: Sequence[CheckQuestion],
    run: _Run,
) -> tuple[list[_Asked], Reason | None]:
    """Return what was sent, and why the rest was not."""
    asked: list[_Asked] = []
    timeline, begun_s = run.timeline, run.timeline.now_s()
    for place, question, check in _in_turn(series, checks):
        timeline.sleep(begun_s + place * run.plan.interval_s - timeline.now_s())
        if run.running.stopped():
            return asked, Reason(code="stopped")
        if timeline.now_s() + run.plan.waiting_s > run.ends_s:
            return asked, Reason(code="time-limit", values={"after_s": run.ends_s - begun_s})
        asked.append(ask(question, check))
    return asked, None


def _in_turn(
    series: Sequence[NameQuestion], checks: Sequence[CheckQuestion]
) -> list[tuple[float, NameQuestion, CheckQuestion | None]]:
    """Return every query with its moment in intervals, the checks half way between the others."""
    regular = [(float(place), question, None) for place, question in enumerate(series)]
    between = [(place + 0.5, check.question, check) for place, check in enumerate(checks)]
    return sorted([*regular, *between], key=lambda one: one[0])


def _columns(target: Target, plan: DnsPlan, sent: Sequence[_Asked]) -> NameQueries | None:
    checks = [(one.check, one) for one in sent if one.check is not None]
    asked = [one for one in sent if one.check is None]
    answers = [one.answer.result() for one in asked]
    if not answers:
        return None
    return NameQueries(
        resolver=target.resolver,
        transport=NameTransport.UDP.value,
        waiting_s=plan.waiting_s,
        name=tuple(one.question.name for one in asked),
        qtype=tuple(one.question.qtype for one in asked),
        sent_s=tuple(one.sent_s for one in asked),
        rtt_ms=tuple(a.rtt_ms for a in answers),
        outcome=tuple(a.outcome for a in answers),
        rcode=tuple(a.rcode for a in answers),
        addresses=tuple(a.addresses for a in answers),
        authenticated=tuple(a.authenticated for a in answers),
        truncated=tuple(a.truncated for a in answers),
        foreign=tuple(a.foreign for a in answers),
        checks=tuple(as_check(check, one.sent_s, one.answer.result()) for check, one in checks),
        place=target.place,
        private_names=target.tests.private,
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
