"""The line passes traffic, names do not: who answers, how soon, and what comes for them."""

from __future__ import annotations

from collections.abc import Callable, Mapping

from agent.assessment.evidence import Item
from agent.assessment.model import Verdict
from agent.diagnosis.exclusions import Exclusion
from agent.diagnosis.facts import Facts
from agent.diagnosis.loss import server_loses
from agent.diagnosis.model import Segment
from agent.diagnosis.needs import NAMES, NAMES_TRIED
from agent.diagnosis.rule import Match, Rule
from agent.measurements import DnsStatistics, Kind, Role, Scalar, State

STUB_WAITS_S = 5.0
STUB_TRIES = 2
"""What a laptop waits for a resolver before the next, and its rounds: resolv.conf(5), options
`timeout` and `attempts` with their defaults. Other systems have timers of their own."""

_STEADY = 0.8
"""Single queries are believed where so many of the series were answered; judgement, no source."""

_WAITED_FOR = frozenset({"lost", "late", "malformed"})
Tells = Callable[[DnsStatistics], bool]

_CERTAIN_FAULTS = ("name-not-resolved",)


def silent(facts: Facts) -> Match | None:
    """No resolver answers, although things answer by address."""
    asked = _asked(facts)
    if not _all_dead(asked) or any(_fails(i) for i in asked):
        return None
    values = {"resolvers": len(asked), "lookup_s": STUB_WAITS_S * STUB_TRIES * len(asked)}
    return _resolver(facts, asked[0], asked, values)


def failing(facts: Facts) -> Match | None:
    """No resolver gives an answer that can be used, and one says that it cannot."""
    asked = _asked(facts)
    found = next((i for i in asked if _fails(i)), None)
    if found is None or not _all_dead(asked):
        return None
    return _resolver(facts, found, asked, {"rcode": _rcode(found), **_told(found)})


def first_silent(facts: Facts) -> Match | None:
    """The resolver asked first is silent, so that each name waits for it in vain."""
    asked = _asked(facts)
    alive = next((place for place, item in enumerate(asked) if _answered(item)), None)
    waited = tuple(i for i in asked[: alive or 0] if _waited_for(i))
    if not waited:
        return None
    cost_s = STUB_WAITS_S * len(waited)
    return _resolver(facts, waited[0], waited, {"resolvers": len(asked), "cost_s": cost_s})


def partly_silent(facts: Facts) -> Match | None:
    """One resolver is dead, another answers."""
    asked = _asked(facts)
    dead = tuple(i for i in asked if not _answered(i))
    if not dead or len(dead) == len(asked):
        return None
    return _resolver(facts, dead[0], dead, {})


def often_silent(facts: Facts) -> Match | None:
    """More queries stay unanswered than any working line loses, and yet some are answered."""
    missed, asked = facts.missed("dns-unanswered"), _asked(facts)
    found = asked[0].dns if asked else None
    if not missed or found is None or not all(map(_answered, asked)) or server_loses(facts):
        return None
    values: dict[str, Scalar] = {"unanswered": found.sent - found.answered, "sent": found.sent}
    return _resolver(facts, asked[0], asked, values)


def slow(facts: Facts) -> Match | None:
    """The resolver that is asked first answers late, by more than the line itself takes.

    Where this laptop is unfit to judge, only if even the fastest answer came too late: a busy
    laptop delays many answers, not all.
    """
    used = next((i for i in _asked(facts) if _answered(i)), None)
    for criterion in facts.criteria("dns-median"):
        if used is None or used.dns is None or used.id not in criterion.measurements:
            continue
        if criterion.measured is None or criterion.limit is None:
            continue
        accepted_ms = criterion.limit + _line_ms(facts)
        fastest_ms = used.dns.min_ms or 0.0
        below = criterion.outcome is Verdict.BELOW
        if criterion.measured > accepted_ms and (below or fastest_ms > accepted_ms):
            values = {"median_ms": criterion.measured, "limit_ms": criterion.limit}
            return _resolver(facts, used, (used,), values)
    return None


def rewritten(facts: Facts) -> Match | None:
    """A resolver gives an address for names that cannot exist."""
    found = _those(facts, lambda dns: bool(dns.rewrites_nxdomain))
    return _altered(facts, found, {}) if found else None


def private_answer(facts: Facts) -> Match | None:
    """A resolver gives a private address for a public name."""
    found = _those(facts, lambda dns: bool(dns.private))
    if not found or found[0].dns is None:
        return None
    name, address = found[0].dns.private[0]
    return _altered(facts, found, {"name": name, "address": address})


def disagree(facts: Facts) -> Match | None:
    """Two resolvers answer one of the operator's names with nothing in common."""
    known: dict[str, tuple[Item, frozenset[str]]] = {}
    for item in _asked(facts):
        for name, addresses in item.dns.same if item.dns else ():
            other, before = known.setdefault(name, (item, frozenset(addresses)))
            if before != frozenset(addresses) and not before & frozenset(addresses):
                values = {"name": name, "other": other.measurement.address}
                return _resolver(facts, item, (other, item), values)
    return None


def tcp_blocked(facts: Facts) -> Match | None:
    """A resolver answers over UDP and never over TCP (RFC 7766 §5)."""
    found = _those(facts, lambda dns: dns.tcp is False and _steady(dns))
    return _altered(facts, found, {}) if found else None


def large_lost(facts: Facts) -> Match | None:
    """Answers of more than 512 octets are lost over UDP, or arrive cut without saying so."""
    found = _those(facts, _loses_large)
    return _altered(facts, found, {}) if found else None


def signed_refused(facts: Facts) -> Match | None:
    """A resolver refuses a soundly signed name, and answers others."""
    found = _those(facts, lambda dns: bool(dns.signed_refused) and _steady(dns))
    return _altered(facts, found, _told(found[0])) if found else None


def not_validating(facts: Facts) -> Match | None:
    """The resolver hands on what carries a wrong signature."""
    found = _those(facts, lambda dns: dns.refuses_bogus is False or dns.signed is False)
    return _resolver(facts, found[0], found, {}, mend=None) if found else None


def encrypted_silent(facts: Facts) -> Match | None:
    """The operator's encrypted resolver gives no answer, although traffic passes."""
    for item in facts.evidence.select(Kind.DNS):
        trouble = _trouble(item)
        if trouble is not None:
            values: dict[str, Scalar] = {
                "resolver": getattr(item.measurement.observed, "resolver", None),
                "trouble": trouble,
                "certificate_has": item.dns.problem if item.dns else None,
            }
            return Match(evidence=(item.id,), values=values)
    return None


def _asked(facts: Facts) -> tuple[Item, ...]:
    """Return the line's resolvers in the order that the laptop asks them."""
    found = facts.resolvers()
    places = {i.id: n for n, i in enumerate(found)}

    def place(item: Item) -> tuple[int, int]:
        told = item.dns.place if item.dns else None
        return (places[item.id] if told is None else told, places[item.id])

    return tuple(sorted(found, key=place))


def _those(facts: Facts, tells: Tells) -> tuple[Item, ...]:
    return tuple(i for i in _asked(facts) if i.dns is not None and _answered(i) and tells(i.dns))


def _all_dead(asked: tuple[Item, ...]) -> bool:
    return bool(asked) and not any(_answered(i) for i in asked)


def _answered(item: Item) -> bool:
    return item.dns is not None and item.dns.answered > 0


def _errors(item: Item) -> dict[str, int]:
    return dict(item.dns.errors) if item.dns else {}


def _rcode(item: Item) -> int | None:
    codes = {k: n for k, n in _errors(item).items() if k.startswith("rcode-")}
    most = max(codes, key=lambda kind: codes[kind], default=None)
    return None if most is None else int(most.removeprefix("rcode-"))


def _fails(item: Item) -> bool:
    return not _answered(item) and _rcode(item) is not None


def _waited_for(item: Item) -> bool:
    """Tell whether a stub waits for this resolver; a refusal or no route lets it go on at once."""
    return not _answered(item) and not _fails(item) and bool(_WAITED_FOR & _errors(item).keys())


def _steady(dns: DnsStatistics) -> bool:
    return dns.answered >= _STEADY * dns.sent


def _loses_large(dns: DnsStatistics) -> bool:
    return _steady(dns) and (dns.large is False or dns.cuts is False)


def _told(item: Item) -> dict[str, Scalar]:
    """Return the resolver's own reason where it gave one (RFC 8914)."""
    errors = item.dns.extended_errors if item.dns else ()
    return {"extended_error": errors[0][0] if errors else None}


def _line_ms(facts: Facts) -> float:
    """Return the round trip that the line itself takes."""
    for role in (Role.SERVER, Role.FIRST_HOP):
        found = facts.sent_to(role)
        if found is not None and found.rtt_ms.median is not None:
            return found.rtt_ms.median
    return 0.0


def _trouble(item: Item) -> str | None:
    """Return why an encrypted resolver gives nothing, None for one that does and for others."""
    if not item.measurement.method.startswith(("dns-tls", "dns-https")):
        return None
    reason = item.measurement.reason
    if item.measurement.state is State.FAILED and reason is not None:
        return reason.code if reason.code in _CERTAIN_FAULTS else None
    if _answered(item) or item.dns is None:
        return None
    return next(iter(_errors(item)), None)


def _resolver(
    facts: Facts,
    item: Item,
    evidence: tuple[Item, ...],
    more: Mapping[str, Scalar],
    *,
    mend: str | None = "restart-router",
) -> Match:
    """Return the match; a resolver that is the gateway itself lies in the home."""
    address = item.measurement.address
    home = mend is not None and facts.behind_home and facts.is_gateway(address)
    sent = item.dns.sent if item.dns else None
    return Match(
        evidence=tuple(i.id for i in evidence),
        values={"resolver": address, "sent": sent, **more},
        segment=Segment.HOME if home else None,
        next_step=mend if home else None,
    )


def _altered(facts: Facts, found: tuple[Item, ...], more: Mapping[str, Scalar]) -> Match:
    """Return the match of answers that are not as they should be."""
    return _resolver(facts, found[0], found, more, mend="check-router-names")


_PAGES = frozenset({"web-unreached", "site-unreached"})

RULES: tuple[Rule, ...] = (
    Rule(
        code="dns-silent",
        segment=Segment.OPERATOR,
        confidence=0.85,
        next_step="report-resolver",
        test=silent,
        needs=(NAMES,),
        ruled_out_by=frozenset({Exclusion.NOTHING_PASSES}),
        hides=_PAGES,
    ),
    Rule(
        code="dns-failing",
        segment=Segment.OPERATOR,
        confidence=0.8,
        next_step="report-resolver",
        test=failing,
        needs=(NAMES,),
        ruled_out_by=frozenset({Exclusion.NOTHING_PASSES}),
        hides=_PAGES,
    ),
    Rule(
        code="dns-first-silent",
        segment=Segment.OPERATOR,
        confidence=0.75,
        next_step="report-resolver",
        test=first_silent,
        needs=(NAMES,),
        hides=frozenset({"dns-partly-silent"}),
    ),
    Rule(
        code="dns-partly-silent",
        segment=Segment.OPERATOR,
        confidence=0.7,
        next_step="report-resolver",
        test=partly_silent,
        needs=(NAMES,),
    ),
    Rule(
        code="dns-often-silent",
        segment=Segment.OPERATOR,
        confidence=0.6,
        next_step="report-resolver",
        test=often_silent,
        needs=(NAMES,),
    ),
    Rule(
        code="dns-private-answer",
        segment=Segment.OPERATOR,
        confidence=0.75,
        next_step="report-answers",
        test=private_answer,
        needs=(NAMES,),
        hides=_PAGES | {"dns-disagree"},
    ),
    Rule(
        code="dns-rewritten",
        segment=Segment.OPERATOR,
        confidence=0.8,
        next_step="report-answers",
        test=rewritten,
        needs=(NAMES,),
    ),
    Rule(
        code="dns-disagree",
        segment=Segment.OPERATOR,
        confidence=0.6,
        next_step="report-answers",
        test=disagree,
        needs=(NAMES,),
    ),
    Rule(
        code="dns-signed-refused",
        segment=Segment.OPERATOR,
        confidence=0.7,
        next_step="report-answers",
        test=signed_refused,
        needs=(NAMES,),
    ),
    Rule(
        code="dns-large-answers-lost",
        segment=Segment.OPERATOR,
        confidence=0.65,
        next_step="report-answers",
        test=large_lost,
        needs=(NAMES,),
    ),
    Rule(
        code="dns-tcp-blocked",
        segment=Segment.OPERATOR,
        confidence=0.65,
        next_step="report-answers",
        test=tcp_blocked,
        needs=(NAMES,),
    ),
    Rule(
        code="dns-slow",
        segment=Segment.OPERATOR,
        confidence=0.6,
        next_step="report-resolver",
        test=slow,
        needs=(NAMES,),
    ),
    Rule(
        code="encrypted-resolver-silent",
        segment=Segment.OPERATOR,
        confidence=0.7,
        next_step="report-encrypted-resolver",
        test=encrypted_silent,
        needs=(NAMES_TRIED,),
        ruled_out_by=frozenset({Exclusion.NOTHING_PASSES}),
    ),
    Rule(
        code="dns-not-validating",
        segment=Segment.NONE,
        confidence=0.9,
        next_step="ask-for-validation",
        test=not_validating,
        needs=(NAMES,),
    ),
)
