"""A way that goes away for moments, and a cable that loses long frames.

All series run at the same time: where the gateway falls silent too, it is the cable or the port;
where only what lies past the modem does, it is the line.
"""

from __future__ import annotations

from agent.assessment.evidence import Item
from agent.assessment.queues import FELT_MS, risen_ms
from agent.diagnosis import needs
from agent.diagnosis.facts import Facts
from agent.diagnosis.groups import LOSSES, RATES, WAVERS
from agent.diagnosis.model import Segment
from agent.diagnosis.rule import Match, Rule
from agent.measurements import Direction, EchoSeries, Kind, LinkFacts, Role, Scalar
from agent.stats.dark_spells import CAME_BACK, Spell, any_meets, dark_spells
from agent.stats.fisher import chance_of_more

_ONCE = 2
"""A link that came and went once has changed twice."""

_CHANCE = 0.001
_MORE_THAN_A_QUEUE = 0.05
"""A queue that flows of TCP keep full turns away some per cent of others' packets (common practice,
no source); a cable that loses more loses them by itself."""

_LEAST_LOST = 2
_MOST = 0.8
_FEW = 0.02
"""A gateway that answers fewer short probes than that limits its answers, or loses any frames."""


def port_flaps(facts: Facts) -> Match | None:
    """The link of this laptop's port went and came back while the visit ran."""
    counts = _carrier_changes(facts)
    changes = max(counts) - min(counts) if counts else 0
    if changes < _ONCE:
        return None
    link = facts.evidence.first(Kind.LINK)
    values: dict[str, Scalar] = {"changes": changes}
    return Match(evidence=(link.id,) if link else (), values=values)


def line_drops(facts: Facts) -> Match | None:
    """For moments nothing came back from past the modem, while the gateway answered."""
    far = _spells(facts, Role.SERVER)
    near = _spells(facts, Role.GATEWAY)
    dark = [spell for spell in far if not any_meets(spell, near)]
    if not dark or not _mostly_dark(facts) or not _series(facts, Role.GATEWAY):
        return None
    values: dict[str, Scalar] = {
        "spells": len(dark),
        "longest_s": max(spell.length_s for spell in dark),
    }
    ids = tuple(i.id for role in (Role.GATEWAY, Role.SERVER) for i in _series(facts, role))
    if _with_first_hop(facts, dark):
        return Match(evidence=ids, values=values)
    operator = Segment.OPERATOR
    return Match(evidence=ids, values=values, segment=operator, next_step="refer-to-operator")


def long_frames_lost(facts: Facts) -> Match | None:
    """Long probes are lost to the gateway, short ones are not."""
    item, short = facts.evidence.long_delay(Role.GATEWAY), facts.sent_to(Role.GATEWAY)
    found = item.delay if item is not None else None
    if item is None or found is None or short is None or not short.received:
        return None
    lost, short_lost = found.sent - found.received, short.sent - short.received
    if short_lost > _FEW * short.sent:
        return None
    if lost < _LEAST_LOST or chance_of_more(lost, found.sent, short_lost, short.sent) > _CHANCE:
        return None
    near = facts.series(Role.GATEWAY)
    values: dict[str, Scalar] = {"lost": lost, "sent": found.sent, "loss_ratio": found.loss_ratio}
    return Match(
        evidence=(item.id, *((near.id,) if near else ())),
        values=values,
        segment=facts.gateway_segment,
    )


def cable_loses_when_busy(facts: Facts) -> Match | None:
    """Lost to the gateway while the cable is busy and not before, more than a queue would lose."""
    idle = facts.sent_to(Role.GATEWAY)
    if idle is None or not idle.received or facts.gateway_segment is Segment.ACCESS:
        return None
    for direction in (Direction.DOWN, Direction.UP):
        item = facts.evidence.loaded_delay(Role.GATEWAY, direction)
        found = item.delay if item is not None else None
        if item is None or found is None or not found.received:
            continue
        rise = risen_ms(facts.evidence, Role.GATEWAY, direction)
        lost, idle_lost = found.sent - found.received, idle.sent - idle.received
        more = chance_of_more(lost, found.sent, idle_lost, idle.sent) <= _CHANCE
        queued = rise is not None and rise >= FELT_MS and lost < _MORE_THAN_A_QUEUE * found.sent
        if more and lost >= _LEAST_LOST and not queued:
            near = facts.series(Role.GATEWAY)
            values: dict[str, Scalar] = {
                "lost": lost,
                "sent": found.sent,
                "direction": direction.value,
            }
            return Match(evidence=(item.id, *((near.id,) if near else ())), values=values)
    return None


def _carrier_changes(facts: Facts) -> list[int]:
    item = facts.evidence.first(Kind.LINK)
    seen = item.measurement.observed if item else None
    first = seen.carrier_changes if isinstance(seen, LinkFacts) else None
    later = (reading.carrier_changes for reading in facts.conditions)
    return [count for count in (first, *later) if count is not None]


def _spells(facts: Facts, role: Role) -> list[Spell]:
    return [spell for item in _series(facts, role) for spell in _of(item)]


def _series(facts: Facts, role: Role) -> list[Item]:
    """Return the series to a role, idle and loaded, that were answered at all."""
    return [i for i in facts.evidence.select(Kind.DELAY, role) if i.delay and i.delay.received]


def _of(item: Item) -> tuple[Spell, ...]:
    observed = item.measurement.observed
    return dark_spells(observed) if isinstance(observed, EchoSeries) else ()


def _mostly_dark(facts: Facts) -> bool:
    """Tell whether what the server's series lost, they lost in spells; else the line is lossy."""
    lost = sum(i.delay.sent - i.delay.received for i in _series(facts, Role.SERVER) if i.delay)
    return _lost_in_spells(facts) >= _MOST * lost


def _lost_in_spells(facts: Facts) -> int:
    count = 0
    for item in _series(facts, Role.SERVER):
        seen, spells = item.measurement.observed, _of(item)
        if isinstance(seen, EchoSeries):
            silent = zip(seen.sent_s, seen.outcome, strict=True)
            at_s = [at for at, outcome in silent if outcome not in CAME_BACK]
            count += sum(any(s.begins_s <= at < s.ends_s for s in spells) for at in at_s)
    return count


def _with_first_hop(facts: Facts, dark: list[Spell]) -> bool:
    """Tell whether the line's own far end was away too, or nobody asked it."""
    first = _spells(facts, Role.FIRST_HOP)
    return not _series(facts, Role.FIRST_HOP) or any(any_meets(spell, first) for spell in dark)


PORT_FLAPS = Rule(
    code="port-flaps",
    segment=Segment.HOME,
    confidence=0.9,
    next_step="change-cord-or-port",
    test=port_flaps,
    needs=(needs.any_of(needs.LINK, needs.Told.CONDITIONS),),
    hides=LOSSES
    | RATES
    | {"line-drops", "cable-loses-when-busy", "long-frames-lost", "dns-often-silent"},
)
LINE_DROPS = Rule(
    code="line-drops",
    segment=Segment.ACCESS,
    confidence=0.85,
    next_step="read-levels-and-log",
    test=line_drops,
    needs=(needs.TO_GATEWAY, needs.TO_SERVER),
    hides=LOSSES | RATES | (WAVERS - {"line-drops"}) | {"dns-often-silent"},
)
LONG_FRAMES_LOST = Rule(
    code="long-frames-lost",
    segment=Segment.HOME,
    confidence=0.85,
    next_step="check-auto-negotiation",
    test=long_frames_lost,
    needs=(needs.TO_GATEWAY,),
    hides=RATES,
)
CABLE_LOSES_WHEN_BUSY = Rule(
    code="cable-loses-when-busy",
    segment=Segment.HOME,
    confidence=0.85,
    next_step="check-auto-negotiation",
    test=cable_loses_when_busy,
    needs=(needs.TO_GATEWAY, needs.RATE),
    hides=RATES | LOSSES | {"line-drops", "hidden-hop", "long-frames-lost"},
)
RULES: tuple[Rule, ...] = (PORT_FLAPS, CABLE_LOSES_WHEN_BUSY, LINE_DROPS, LONG_FRAMES_LOST)
