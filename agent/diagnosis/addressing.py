"""The address that the laptop holds: made up, over, doubled, or without a way or a resolver."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import combinations

from agent.assessment.evidence import Item
from agent.diagnosis.exclusions import Exclusion
from agent.diagnosis.facts import Facts
from agent.diagnosis.groups import ALL_BEYOND, CUTS, SERVICES, SESSIONS
from agent.diagnosis.model import Segment
from agent.diagnosis.needs import LEASE, LINK, Told, any_of
from agent.diagnosis.outage import UNSURE_AT_MODEM
from agent.diagnosis.rule import Match, Rule
from agent.measurements import Kind, LeaseFacts, LeaseStatistics, Scalar

_TAKE_AGAIN = "ask-for-address-again"


def tag_missing(facts: Facts) -> Match | None:
    """The operator's handover is tagged, the port under test is not, and no address came."""
    link = facts.evidence.first(Kind.LINK)
    port = link.link if link else None
    tag = facts.around.tag
    if link is None or port is None or port.vlan_id == tag:
        return None
    values: dict[str, Scalar] = {"tag": tag, "found": port.vlan_id}
    return Match(evidence=(link.id,), values=values)


def self_assigned(facts: Facts) -> Match | None:
    """Nobody gave an address, so the laptop made one up (RFC 3927).

    What a probe heard from a server says more, and has rules of its own. So has a PPPoE handover,
    on which every system without a session makes one up.
    """
    held = list(_held(facts))
    if any(_answered(i) for i, _ in held):
        return None
    for item, lease in held:
        if lease.origin == "self-assigned":
            return Match(
                evidence=(item.id,),
                values={"address": lease.address},
                confidence=None if facts.behind_home else UNSURE_AT_MODEM,
                segment=facts.near_segment(),
                next_step="restart-router" if facts.behind_home else "restart-modem-alone",
            )
    return None


def expired(facts: Facts) -> Match | None:
    """The lease is over, and its address is held all the same.

    A server that offers would have renewed it: then nobody on the laptop asked.
    """
    for item, lease in _held(facts):
        if lease.state == "expired":
            offered = bool(lease.offers)
            return Match(
                evidence=(item.id,),
                values={"address": lease.address, "expired_s": lease.expired_s},
                segment=Segment.LAPTOP if offered else facts.near_segment(),
                next_step=_TAKE_AGAIN if offered else None,
            )
    return None


def two_leases(facts: Facts) -> Match | None:
    """Two servers gave this port an address each."""
    leased = [(i, s) for i, s in _held(facts, 4) if s.usable and s.origin == "dhcp"]
    for (item, one), (other_item, other) in combinations(leased, 2):
        if one.address != other.address:
            values: dict[str, Scalar] = {"address": one.address, "other": other.address}
            ids = (item.id, other_item.id)
            return Match(evidence=ids, values=values, segment=facts.near_segment())
    return None


def two_ways(facts: Facts) -> Match | None:
    """Two default ways lead over the port under test, to different gateways."""
    for item, lease in _held(facts, 4):
        ways = lease.ways or ()
        if lease.usable and len(ways) > 1:
            return Match(evidence=(item.id,), values={"gateway": ways[0], "other": ways[1]})
    return None


def port_beside(facts: Facts) -> Match | None:
    """Another port of the laptop stands in the same network, and may carry what is sent."""
    for item, lease in _held(facts):
        if lease.beside:
            return Match(evidence=(item.id,), values={"port": lease.beside[0]})
    return None


def no_default_way(facts: Facts) -> Match | None:
    """An address is held, and no way leads on, although the lease names one or none gave it."""
    entries = list(_held(facts, 4))
    if any(lease.ways for _, lease in entries):
        return None
    for item, lease in entries:
        if lease.usable and lease.ways == () and lease.leased_routers != ():
            named = lease.leased_routers[0] if lease.leased_routers else None
            by_hand = lease.origin == "static"
            unsure = named is None and not by_hand
            return Match(
                evidence=(item.id,),
                values={"address": lease.address, "gateway": named},
                segment=Segment.UNDETERMINED if unsure else None,
                next_step="set-gateway-by-hand" if by_hand else None,
            )
    return None


def no_resolver(facts: Facts) -> Match | None:
    """No resolver is set on the laptop, and the lease is not known to name none."""
    entries = [(i, s) for i, s in _held(facts) if s.usable]
    if not entries or facts.resolvers() or any(s.dns for _, s in entries):
        return None
    if any(s.leased_dns == () for _, s in entries):
        return None
    item, lease = entries[0]
    by_hand = lease.origin == "static"
    return Match(
        evidence=(item.id,),
        segment=None if by_hand else Segment.UNDETERMINED,
        next_step="set-resolver-by-hand" if by_hand else None,
    )


def lease_names_no_resolver(facts: Facts) -> Match | None:
    """The lease names no resolver; the laptop has one of its own, other devices have none."""
    entries = [(i, s) for i, s in _held(facts) if s.usable]
    if any(s.dns for _, s in entries if s.family == 6):
        return None
    for item, lease in entries:
        if lease.leased_dns == () and lease.dns:
            values: dict[str, Scalar] = {"resolver": lease.dns[0]}
            return Match(evidence=(item.id,), values=values, segment=facts.near_segment())
    return None


def duplicate(facts: Facts) -> Match | None:
    """The laptop's system found its address in use by another host (RFC 4862 §5.4)."""
    for item, lease in _held(facts):
        if lease.state == "duplicate":
            values: dict[str, Scalar] = {"address": lease.address}
            return Match(evidence=(item.id,), values=values, segment=facts.near_segment())
    return None


def prefix_withdrawn(facts: Facts) -> Match | None:
    """Every IPv6 address is deprecated: its prefix is announced no longer (RFC 4862 §5.5.4)."""
    entries = list(_held(facts, 6))
    if not entries or any(lease.state != "deprecated" for _, lease in entries):
        return None
    values: dict[str, Scalar] = {"address": entries[0][1].address}
    return Match(evidence=(entries[0][0].id,), values=values, segment=facts.near_segment())


def _held(facts: Facts, family: int | None = None) -> Iterator[tuple[Item, LeaseStatistics]]:
    for item in facts.evidence.select(Kind.LEASE):
        if item.lease is not None and family in (None, item.lease.family):
            yield item, item.lease


def _answered(item: Item) -> bool:
    """Tell whether a server spoke when it was asked."""
    observed = item.measurement.observed
    probe = observed.probe if isinstance(observed, LeaseFacts) else None
    return probe is not None and bool(probe.offers or probe.naks or probe.overheard)


RULES: tuple[Rule, ...] = (
    Rule(
        code="tag-missing",
        segment=Segment.LAPTOP,
        confidence=0.85,
        next_step="set-tag",
        test=tag_missing,
        needs=(LINK, any_of(Told.TAG)),
        ruled_out_by=frozenset(
            {Exclusion.BEHIND_HOME, Exclusion.ADDRESS_HELD, Exclusion.LINK_DOWN}
        ),
        hides=ALL_BEYOND | SESSIONS | {"self-assigned", "no-lease"},
    ),
    Rule(
        code="self-assigned",
        segment=Segment.HOME,
        confidence=0.85,
        next_step="restart-router",
        test=self_assigned,
        needs=(LEASE,),
        ruled_out_by=frozenset(
            {Exclusion.SESSION_HANDOVER, Exclusion.ADDRESS_HELD, Exclusion.LINK_DOWN}
        ),
        hides=ALL_BEYOND | {"no-lease"},
    ),
    Rule(
        code="lease-expired",
        segment=Segment.HOME,
        confidence=0.8,
        next_step="restart-router",
        test=expired,
        needs=(LEASE,),
        hides=SERVICES | CUTS | {"lease-server-silent"},
    ),
    Rule(
        code="address-duplicate",
        segment=Segment.HOME,
        confidence=0.8,
        next_step="find-address-user",
        test=duplicate,
        needs=(LEASE,),
    ),
    Rule(
        code="two-leases",
        segment=Segment.HOME,
        confidence=0.8,
        next_step="find-second-dhcp-server",
        test=two_leases,
        needs=(LEASE,),
        hides=frozenset(
            {"two-ways", "two-dhcp-servers", "address-of-another-pool", "unexpected-dhcp-server"}
        ),
    ),
    Rule(
        code="two-ways",
        segment=Segment.LAPTOP,
        confidence=0.6,
        next_step="keep-one-way",
        test=two_ways,
        needs=(LEASE,),
    ),
    Rule(
        code="no-default-way",
        segment=Segment.LAPTOP,
        confidence=0.8,
        next_step=_TAKE_AGAIN,
        test=no_default_way,
        needs=(LEASE,),
        ruled_out_by=frozenset({Exclusion.SESSION_LINK}),
        hides=ALL_BEYOND | {"offer-without-router"},
    ),
    Rule(
        code="no-resolver",
        segment=Segment.LAPTOP,
        confidence=0.8,
        next_step=_TAKE_AGAIN,
        test=no_resolver,
        needs=(LEASE,),
        hides=SERVICES - {"server-silent", "delay-high", "delay-rises-under-load"},
    ),
    Rule(
        code="lease-without-resolver",
        segment=Segment.HOME,
        confidence=0.6,
        next_step="set-dns-option",
        test=lease_names_no_resolver,
        needs=(LEASE,),
    ),
    Rule(
        code="prefix-withdrawn",
        segment=Segment.HOME,
        confidence=0.6,
        next_step="restart-router",
        test=prefix_withdrawn,
        needs=(LEASE,),
    ),
    Rule(
        code="port-beside",
        segment=Segment.NONE,
        confidence=0.6,
        next_step="switch-other-port-off",
        test=port_beside,
        needs=(LEASE,),
    ),
)
