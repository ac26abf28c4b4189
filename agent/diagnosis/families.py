"""IPv6 that is there and does not work, which a browser hides by trying both families."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

from agent.assessment.evidence import Item
from agent.diagnosis.facts import Facts
from agent.diagnosis.model import Segment
from agent.diagnosis.needs import PAGES
from agent.diagnosis.rule import Match, Rule
from agent.diagnosis.segments import hop_segments
from agent.measurements import FamilyBreak, FamilyStatistics, Kind, Role, Scalar
from agent.units import ms_from_s


def ipv4_missing(facts: Facts) -> Match | None:
    """IPv6 alone was given, and nothing translates; with translation such a home is sound."""
    for item, found in _seen(facts):
        if found.ipv4_missing:
            return Match(evidence=(item.id,), segment=facts.near_segment())
    return None


def no_route(facts: Facts) -> Match | None:
    """An address of IPv6 is held, and nobody says where to send what leaves the link."""
    return _match(facts, FamilyBreak.NO_ROUTE, segment=facts.near_segment())


def no_answer(facts: Facts) -> Match | None:
    """Pages that answer over IPv4 do not over IPv6, none of them."""
    found = _match(facts, FamilyBreak.NO_ANSWER)
    return None if found is None else _placed(facts, found)


def large_lost(facts: Facts) -> Match | None:
    """Small packets pass over IPv6, full ones meet silence; over IPv4 both pass.

    Where the search for the path MTU went over IPv6 and saw it, that names size and place.
    """
    item = facts.evidence.first(Kind.PATH, Role.SERVER)
    found = item.path.mtu if item is not None and item.path is not None else None
    searched = item is not None and item.measurement.family == 6
    if searched and found is not None and found.up_limit == "silent":
        return None
    return _match(facts, FamilyBreak.LARGE_LOST)


def site_unanswered(facts: Facts) -> Match | None:
    """One page's IPv6 address does not answer, others do."""
    return _match(facts, FamilyBreak.SITE_UNANSWERED)


def names_silent(facts: Facts) -> Match | None:
    """The resolvers answer for IPv4 addresses and never for IPv6 ones."""
    return _match(facts, FamilyBreak.NAMES_SILENT)


def slower(facts: Facts) -> Match | None:
    """Every page takes clearly longer to reach over IPv6."""
    return _match(facts, FamilyBreak.SLOWER)


def _match(facts: Facts, wanted: FamilyBreak, segment: Segment | None = None) -> Match | None:
    for item, found in _seen(facts):
        if wanted in found.breaks:
            return Match(evidence=(item.id,), values=_values(found), segment=segment)
    return None


def _seen(facts: Facts) -> Iterator[tuple[Item, FamilyStatistics]]:
    for item in facts.evidence.select(Kind.HTTP):
        if isinstance(item.statistics, FamilyStatistics):
            yield item, item.statistics


def _placed(facts: Facts, match: Match) -> Match:
    """Return the match in the stretch past the last router that answers over IPv6.

    IPv4 passes the same line: a home router that answers alone has no IPv6 from the line, or does
    not use it, and which of both only a renewal tells. One that refuses knows no way itself.
    """
    found = _walked(facts)
    if found is None:
        return match
    segments = hop_segments(found.hops, facts.around, found.walked_to)
    places = [place for place, hop in enumerate(found.hops) if hop]
    if not places:
        return replace(match, segment=facts.near_segment(), next_step="mend-ipv6-router")
    values = {**match.values, "last_hop": found.hops[places[-1]][0]}
    if segments[places[-1]] in _FAR:
        return replace(match, values=values, segment=Segment.OPERATOR)
    refuses = found.stop_code not in _NO_REFUSAL
    place = facts.near_segment() if refuses else Segment.UNDETERMINED
    return replace(match, values=values, segment=place, next_step="mend-ipv6-router")


def _walked(facts: Facts) -> FamilyStatistics | None:
    return next((found for _, found in _seen(facts) if found.walked_to is not None), None)


def _values(found: FamilyStatistics) -> dict[str, Scalar]:
    return {
        "target": next(iter(found.unanswered), None),
        "tried": found.tried,
        "answered": found.answered,
        "racing_ms": None if found.racing_s is None else ms_from_s(found.racing_s),
        "single_s": found.single_s,
        "connect_4_ms": found.connect_4_ms,
        "connect_6_ms": found.connect_6_ms,
    }


_FAR = frozenset({Segment.ACCESS, Segment.OPERATOR, Segment.BEYOND})

_NO_REFUSAL = frozenset({None, "silent", "loop", "hop-limit"})
"""The other reasons why a walk ends are a router's own word."""

_RESOLVERS = frozenset({"dns-first-silent", "dns-partly-silent"})
"""The resolver's IPv6 address is silent with everything else over IPv6."""

RULES: tuple[Rule, ...] = (
    Rule(
        code="ipv4-missing",
        segment=Segment.HOME,
        confidence=0.8,
        next_step="restart-router-for-ipv4",
        test=ipv4_missing,
        needs=(PAGES,),
        hides=frozenset({"server-silent", "web-unreached", "site-unreached"}),
    ),
    Rule(
        code="ipv6-no-route",
        segment=Segment.HOME,
        confidence=0.8,
        next_step="mend-ipv6-router",
        test=no_route,
        needs=(PAGES,),
        hides=_RESOLVERS,
    ),
    Rule(
        code="ipv6-large-packets-vanish",
        segment=Segment.OPERATOR,
        confidence=0.7,
        next_step="report-ipv6",
        test=large_lost,
        needs=(PAGES,),
    ),
    Rule(
        code="ipv6-dead",
        segment=Segment.OPERATOR,
        confidence=0.7,
        next_step="report-ipv6",
        test=no_answer,
        needs=(PAGES,),
        hides=_RESOLVERS,
    ),
    Rule(
        code="ipv6-names-silent",
        segment=Segment.OPERATOR,
        confidence=0.6,
        next_step="report-resolver",
        test=names_silent,
        needs=(PAGES,),
    ),
    Rule(
        code="ipv6-slower",
        segment=Segment.OPERATOR,
        confidence=0.5,
        next_step="report-ipv6",
        test=slower,
        needs=(PAGES,),
    ),
    Rule(
        code="ipv6-site-unanswered",
        segment=Segment.BEYOND,
        confidence=0.5,
        next_step="none-on-this-line",
        test=site_unanswered,
        needs=(PAGES,),
    ),
)
