"""The strip of segments: what each part of the way showed, from the laptop outwards."""

from __future__ import annotations

from agent.record import (
    DelayStatistics,
    HttpStatistics,
    Kind,
    LeaseStatistics,
    LinkStatistics,
    PathStatistics,
    Record,
    Role,
    Segment,
    ThroughputStatistics,
)
from agent.sheet.catalogue import words
from agent.sheet.model import Cell, Ground
from agent.sheet.numbers import count_of, port_speed, quantity
from agent.sheet.pick import first, idle_delay, picked
from agent.sheet.wording import LIKELY_FROM, word

ORDER = (
    Segment.LAPTOP,
    Segment.HOME,
    Segment.MODEM,
    Segment.ACCESS,
    Segment.OPERATOR,
    Segment.BEYOND,
)
# Plugged in here, no home network lies between the laptop and the modem.
BRIDGED = {"ont", "modem"}
# Findings that say why this place cannot be judged from, not that it is at fault.
UNFIT = {
    "slow-not-attributable",
    "another-line",
    "tunnel-on",
    "pppoe-no-session",
    "pppoe-not-started",
    "laptop-limits",
    "window-limits",
    "server-limits",
    "other-traffic-limits",
}

# Whether anything came back, and what was seen.
Evidence = tuple[bool, str]


def build_strip(record: Record) -> tuple[Cell, ...]:
    """Return the six segments with the state of each in words and ground."""
    seen = {segment: _seen(record, segment) for segment in ORDER}
    cells = []
    for place, segment in enumerate(ORDER):
        beyond = any(came(seen[later]) for later in ORDER[place + 1 :])
        before = [s for s in ORDER[:place] if _blame(record, s) is Ground.LIKELY]
        ground = _ground(record, segment, seen[segment], beyond=beyond, blocked=bool(before))
        cells.append(_cell(record, segment, ground, seen[segment]))
    return tuple(cells)


def came(evidence: Evidence | None) -> bool:
    """Return True where something came back."""
    return evidence is not None and evidence[0]


def _cell(record: Record, segment: Segment, ground: Ground, seen: Evidence | None) -> Cell:
    text = seen[1] if seen else ""
    if ground is Ground.CLEAR and not came(seen):
        text = words.STRIP_PASSES
    if ground is Ground.ABSENT:
        plugged = word(words.STRIP_PLUGGED, record.visit.plugged_into)
        text = words.STRIP_BRIDGED.format(plugged=plugged)
    return Cell(
        name=words.SEGMENT[segment], ground=ground, state=words.GROUND[ground], evidence=text
    )


def _ground(
    record: Record, segment: Segment, seen: Evidence | None, *, beyond: bool, blocked: bool
) -> Ground:
    blame = _blame(record, segment)
    if blame is not None:
        return blame
    if segment is Segment.HOME and record.visit.plugged_into in BRIDGED:
        return Ground.ABSENT
    if came(seen) or beyond:
        return Ground.CLEAR
    return Ground.UNREACHED if seen or blocked else Ground.UNKNOWN


def _blame(record: Record, segment: Segment) -> Ground | None:
    findings = [f for f in record.diagnosis.findings if f.segment is segment]
    faults = [f for f in findings if f.code not in UNFIT]
    if not findings:
        return None
    if not faults:
        return Ground.UNFIT
    sure = max(f.confidence for f in faults) >= LIKELY_FROM
    return Ground.LIKELY if sure else Ground.POSSIBLE


def _seen(record: Record, segment: Segment) -> Evidence | None:
    bridged = record.visit.plugged_into in BRIDGED
    match segment:
        case Segment.LAPTOP:
            return _port(record)
        case Segment.HOME:
            return _lease(record) if bridged else _echo(record, Role.GATEWAY) or _lease(record)
        case Segment.MODEM:
            gateway = _echo(record, Role.GATEWAY) if bridged and _modem_routes(record) else None
            return _echo(record, Role.MODEM) or gateway
        case Segment.ACCESS:
            far = bridged and not _modem_routes(record)
            near = _echo(record, Role.GATEWAY) if far else None
            return _echo(record, Role.FIRST_HOP) or near
        case Segment.OPERATOR:
            return _echo(record, Role.SERVER) or _server(record)
        case _:
            return _pages(record)


def _modem_routes(record: Record) -> bool:
    """Tell whether the gateway is the modem itself: by a walk, or by its address."""
    asked = {m.role: m.address for m, _ in picked(record, DelayStatistics, Kind.DELAY)}
    address = asked.get(Role.MODEM)
    same = address is not None and asked.get(Role.GATEWAY) == address
    return same or any(walk.hops[:1] == (Segment.MODEM,) for walk in record.diagnosis.walks)


def _port(record: Record) -> Evidence | None:
    link = first(record, LinkStatistics, Kind.LINK)
    if link is None:
        return None
    if not link.up:
        return True, words.STRIP_PORT_DOWN
    speed = port_speed(link.speed_bps) if link.speed_bps else ""
    return True, ", ".join(part for part in (word(words.MEDIUM, link.medium), speed) if part)


def _lease(record: Record) -> Evidence | None:
    lease = first(record, LeaseStatistics, Kind.LEASE)
    if lease is None:
        return None
    return lease.usable, words.STRIP_ADDRESS if lease.usable else words.STRIP_NO_ADDRESS


def _echo(record: Record, role: Role) -> Evidence | None:
    delay = idle_delay(record, role)
    return _echoed(delay) if delay and delay.sent else None


def _echoed(delay: DelayStatistics) -> Evidence:
    if delay.received == 0:
        return False, words.STRIP_SILENT.format(sent=delay.sent)
    lost = round((delay.loss_ratio or 0.0) * delay.sent)
    median = quantity(delay.rtt_ms.median, "ms")
    return True, words.STRIP_ANSWERED.format(median=median, count=count_of(lost, delay.sent))


def _server(record: Record) -> Evidence | None:
    if any(s.bytes for _, s in picked(record, ThroughputStatistics, Kind.THROUGHPUT)):
        return True, words.STRIP_PASSES
    path = first(record, PathStatistics, Kind.PATH)
    return (True, words.STRIP_PASSES) if path and path.reached else None


def _pages(record: Record) -> Evidence | None:
    pages = [s for _, s in picked(record, HttpStatistics, Kind.HTTP)]
    answered = sum(1 for page in pages if page.answered)
    if not pages:
        return None
    return answered > 0, words.STRIP_PAGES.format(count=count_of(answered, len(pages)))
