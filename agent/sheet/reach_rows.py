"""The page's rows on ports and on the laptop as it is seen from outside."""

from __future__ import annotations

from agent.record import Kind, ReachStatistics, Record
from agent.sheet.catalogue import words
from agent.sheet.model import Pair
from agent.sheet.pick import first
from agent.sheet.wording import LINE, SHORT, bounded

MOST_NAMED = 3


def reach_rows(record: Record, *, brief: bool = False) -> list[Pair]:
    """Return how the server sees the laptop, and which listed ports pass; none where not tried."""
    found = first(record, ReachStatistics, Kind.REACH)
    if found is None:
        return []
    pairs = []
    if found.seen_addresses and not brief:
        pairs.append(Pair(label=words.LABEL["seen_as"], value=_seen(found)))
    if found.tried:
        pairs.append(Pair(label=words.LABEL["ports"], value=_ports(found)))
    return pairs


def _seen(found: ReachStatistics) -> str:
    told = [bounded(address, SHORT) for address in found.seen_addresses[:MOST_NAMED]]
    told += [
        words.SEEN_PORT.format(
            transport=one.transport.value.upper(), own=one.own_port, seen=one.seen_port
        )
        for one in found.sightings[:MOST_NAMED]
    ]
    return bounded(", ".join(told), LINE)


def _ports(found: ReachStatistics) -> str:
    text = words.PORTS_LINE.format(good=found.as_wanted, tried=found.tried)
    other = [bounded(port.name, SHORT) for port in found.ports if port.as_wanted is False]
    if other:
        text = words.PORTS_OTHER.format(line=text, names=", ".join(other[:MOST_NAMED]))
    return bounded(text, LINE)
