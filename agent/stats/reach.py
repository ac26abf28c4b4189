"""What attempts on ports say: open or not, how far anything answers, how the laptop is seen."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import replace

from agent.measurements import (
    PortAttempt,
    PortStatistics,
    ReachLook,
    ReachOutcome,
    ReachStatistics,
    Sighting,
)
from agent.stats.quantiles import median_of_known

UNTRIED, FILTERED = "untried", "filtered"

_MOST_TELLING = (ReachOutcome.OPEN, ReachOutcome.REFUSED, ReachOutcome.UNREACHABLE)


def reach_statistics(look: ReachLook) -> ReachStatistics:
    """Return every listed port with what came of it, and all that was seen of the laptop."""
    listed = [number for number, target in enumerate(look.targets) if target.listed]
    ports = tuple(_port(look, number) for number in listed)
    tried = [port for port in ports if port.as_wanted is not None]
    sightings = _sightings(look)
    seen = [look.card_address, *(one.seen_address for one in sightings)]
    return ReachStatistics(
        ports=ports,
        tried=len(tried),
        as_wanted=sum(bool(port.as_wanted) for port in tried),
        own_address=look.own_address,
        seen_addresses=tuple(dict.fromkeys(address for address in seen if address)),
        sightings=sightings,
    )


def _port(look: ReachLook, number: int) -> PortStatistics:
    target = look.targets[number]
    whole = [a for a in _of(look, number) if a.hop_limit is None]
    telling = _telling(whole)
    found = PortStatistics(
        name=target.name,
        transport=target.transport,
        port=target.port,
        outcome=_outcome(whole, telling),
        wanted_open=target.wanted_open,
        at_server=target.at_server,
        address=target.address,
        rtt_ms=median_of_known(a.rtt_ms for a in whole if a.outcome is ReachOutcome.OPEN),
        answered_by=telling.answered_by if telling else None,
        icmp_type=telling.icmp_type if telling else None,
        icmp_code=telling.icmp_code if telling else None,
    )
    return _walked(look, number, found)


def _outcome(whole: Sequence[PortAttempt], telling: PortAttempt | None) -> str:
    if telling is not None:
        return telling.outcome.value
    silent = any(a.outcome is ReachOutcome.SILENT for a in whole)
    return FILTERED if silent else UNTRIED


def _telling(attempts: Sequence[PortAttempt]) -> PortAttempt | None:
    """Return the attempt that tells most: one open outweighs every refusal."""
    for outcome in _MOST_TELLING:
        for attempt in attempts:
            if attempt.outcome is outcome:
                return attempt
    return None


def _walked(look: ReachLook, number: int, found: PortStatistics) -> PortStatistics:
    """Return the port with how far answers come from, and how far on a port that passes."""
    own = [a for a in _of(look, number) if a.hop_limit is not None]
    if not own:
        return found
    other_number = _compared_with(look, number)
    other = [] if other_number is None else _limited(look, other_number)
    return replace(
        found,
        compared_with=None if other_number is None else look.targets[other_number].port,
        hops=_hops((*own, *other)),
        answers_to=_furthest(own),
        others_to=_furthest(other),
        reached_at=_nearest(other, ReachOutcome.OPEN),
        refused_at=_nearest(own, ReachOutcome.REFUSED),
    )


def _compared_with(look: ReachLook, number: int) -> int | None:
    """Return the port that was walked to as well and passes: one of the same host before others."""
    address = look.targets[number].address
    walked = {a.target for a in look.attempts if a.hop_limit is not None} - {number}
    passing = [n for n in sorted(walked) if _nearest(_limited(look, n), ReachOutcome.OPEN)]
    same = [n for n in passing if look.targets[n].address == address]
    return next(iter(same), None)


def _limited(look: ReachLook, number: int) -> list[PortAttempt]:
    return [a for a in _of(look, number) if a.hop_limit is not None]


def _of(look: ReachLook, number: int) -> list[PortAttempt]:
    return [a for a in look.attempts if a.target == number]


def _furthest(attempts: Iterable[PortAttempt]) -> int | None:
    """Return the largest distance from which a router said that the hop limit ran out."""
    answered = (a.hop_limit for a in attempts if a.outcome is ReachOutcome.EXPIRED)
    return max((limit for limit in answered if limit is not None), default=None)


def _nearest(attempts: Iterable[PortAttempt], outcome: ReachOutcome) -> int | None:
    """Return the smallest distance from which an outcome comes."""
    found = (a.hop_limit for a in attempts if a.outcome is outcome)
    return min((limit for limit in found if limit is not None), default=None)


def _hops(attempts: Iterable[PortAttempt]) -> tuple[tuple[str, ...], ...]:
    """Return who said at each distance that the hop limit ran out, none for silent ones."""
    known: dict[int, dict[str, None]] = {}
    for one in attempts:
        if one.outcome is ReachOutcome.EXPIRED and one.hop_limit and one.answered_by:
            known.setdefault(one.hop_limit, {})[one.answered_by] = None
    return tuple(tuple(known.get(at, ())) for at in range(1, max(known, default=0) + 1))


def _sightings(look: ReachLook) -> tuple[Sighting, ...]:
    return tuple(
        Sighting(
            transport=look.targets[one.target].transport,
            own_address=one.own_address,
            own_port=one.own_port,
            seen_address=one.seen_address,
            seen_port=one.seen_port,
        )
        for one in look.attempts
        if one.seen_address is not None and one.seen_port is not None
    )
