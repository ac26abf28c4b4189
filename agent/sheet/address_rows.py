"""The page's block of port and addresses."""

from __future__ import annotations

from agent.record import (
    FamilyState,
    FamilyStatistics,
    Kind,
    LeaseStatistics,
    LinkStatistics,
    Record,
)
from agent.sheet.catalogue import words
from agent.sheet.headline import port_text
from agent.sheet.model import Pair, Pairs
from agent.sheet.numbers import DASH, number, quantity
from agent.sheet.pick import first
from agent.sheet.reach_rows import reach_rows
from agent.sheet.wording import LINE, SHORT, bounded, word

MINUTE_S = 60


def address_block(record: Record, *, brief: bool = False) -> Pairs:
    """Return the port, the address held, what came with it, and whether IPv6 works.

    In brief, who else was heard and how the server sees the laptop are left to the second sheet.
    """
    label, lease = words.LABEL, first(record, LeaseStatistics, Kind.LEASE)
    pairs = [Pair(label=label["port"], value=_interface(record))]
    if lease is not None:
        pairs += [
            Pair(label=label["address"].split()[0], value=_held(lease)),
            Pair(label=label["gateway"], value=bounded(lease.gateway or DASH, SHORT)),
            Pair(label=label["resolvers"], value=bounded(", ".join(lease.dns) or DASH, LINE)),
        ]
        if lease.lease_s is not None:
            pairs.append(Pair(label=label["lease"], value=_lease_time(lease)))
        if lease.offers is not None and not brief:
            value = _heard(lease.offers, lease.first_offer_ms)
            pairs.append(Pair(label=label["offers"], value=value))
        if lease.concentrators is not None and not brief:
            value = _heard(lease.concentrators, lease.first_concentrator_ms)
            pairs.append(Pair(label=label["concentrators"], value=value))
    pairs += [*_translation(record), *_ipv6(record), *reach_rows(record, brief=brief)]
    return Pairs(title=label["address"], pairs=tuple(pairs))


def _interface(record: Record) -> str:
    name, link = record.visit.interface, first(record, LinkStatistics, Kind.LINK)
    if not name:
        return port_text(record)
    said = bounded(name, 20)
    if link is not None and link.parent:
        said = words.PORT_OVER.format(name=said, parent=bounded(link.parent, 20))
    if link is not None and link.vlan_id is not None:
        said = words.PORT_TAG.format(name=said, tag=link.vlan_id)
    return f"{said}: {port_text(record)}"


def _held(lease: LeaseStatistics) -> str:
    origin = word(words.ORIGIN, lease.origin)
    if lease.address is None:
        return origin
    prefix = f"/{lease.prefix}" if lease.prefix is not None else ""
    state = words.ADDRESS_STATE.get(lease.state or "")
    said = f"{bounded(lease.address, SHORT)}{prefix}, {origin}"
    return f"{said}, {state}" if state else said


def _lease_time(lease: LeaseStatistics) -> str:
    renewal = None if lease.t1_s is None else lease.t1_s / MINUTE_S
    line = words.LEASE_LINE_ASSUMED if lease.timers_assumed else words.LEASE_LINE
    return line.format(
        minutes=number((lease.lease_s or 0) / MINUTE_S, "count"), t1=number(renewal, "count")
    )


def _heard(count: int, first_ms: float | None) -> str:
    return f"{count}, {quantity(first_ms, 'ms')}" if first_ms is not None else str(count)


def _ipv6(record: Record) -> list[Pair]:
    found = first(record, FamilyStatistics, Kind.HTTP)
    if found is None or found.state is FamilyState.UNTRIED:
        return []
    said = word(words.IPV6_STATE, found.state)
    if found.translation_prefix is not None and found.state is FamilyState.PRESENT:
        said = words.IPV6_TRANSLATED.format(state=said)
    return [Pair(label=words.LABEL["ipv6"], value=said)]


def _translation(record: Record) -> list[Pair]:
    found = record.diagnosis.translation
    if found is None:
        return []
    said = words.TRANSLATED_AT_HOME if found.translated else words.NOT_TRANSLATED
    if found.home_routers > 1:
        said = words.TRANSLATED_AGAIN.format(routers=found.home_routers)
    if found.shared:
        said = words.TRANSLATED_BY_OPERATOR
    return [Pair(label=words.LABEL["translation"], value=said)]
