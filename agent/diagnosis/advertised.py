"""What routers and DHCPv6 servers say of IPv6, and what is wrong with it."""

from __future__ import annotations

from collections.abc import Callable, Iterator

from agent.assessment.evidence import Item
from agent.diagnosis.exclusions import Exclusion
from agent.diagnosis.facts import Facts
from agent.diagnosis.model import Segment
from agent.diagnosis.needs import LEASE, Told, any_of
from agent.diagnosis.rule import Match, Rule
from agent.measurements import AdvertisedProbe, Kind, LeaseFacts, Scalar
from agent.stats import advertised as a
from agent.stats.advertised import AdvertisedFault
from agent.stats.lease import usable

_UNASKED = 0.5
"""What the system's own view is worth: a laptop that asks no server looks the same."""


def two_routers(facts: Facts) -> Match | None:
    """More than one device says that it is the way out; that of the way in force is the wanted."""
    for item, held in _told(facts, AdvertisedFault.TWO_ROUTERS):
        known = _routers(held)
        gateways = {one.gateway for one in _entries(facts, 6)}
        others = [one for one in known if one[0] not in gateways] or known
        values: dict[str, Scalar] = {
            "routers": len({hardware or address for address, hardware in known}),
            "hardware_address": others[-1][1] or others[-1][0],
            "address": others[-1][0],
        }
        place = Segment.HOME if facts.behind_home else Segment.ACCESS
        return Match(evidence=(item.id,), values=values, segment=place)
    return None


def faulty(fault: AdvertisedFault) -> Callable[[Facts], Match | None]:
    """Return the test whether what routers and servers say has a fault."""

    def test(facts: Facts) -> Match | None:
        for item, held in _told(facts, fault):
            confidence = None if held.advertised is not None else _UNASKED
            return Match(
                evidence=(item.id,),
                values=_values(held),
                segment=facts.near_segment(),
                confidence=confidence,
            )
        return None

    return test


def prefix_expired(facts: Facts) -> Match | None:
    """Routers give only prefixes that run out; where none was asked, the address itself tells."""
    found = faulty(AdvertisedFault.EXPIRED)(facts)
    return found if _probed(facts) else None


def managed_without_server(facts: Facts) -> Match | None:
    """Devices are sent to a server for their addresses, and none came from one."""
    held_6 = any(usable(one) and one.origin == "dhcp" for one in _entries(facts, 6))
    return None if held_6 else faulty(AdvertisedFault.NO_SERVER)(facts)


def no_resolver(facts: Facts) -> Match | None:
    """IPv6 is the only family, and neither routers nor servers name a resolver for it."""
    four = any(usable(one) for one in _entries(facts, 4))
    return None if four else faulty(AdvertisedFault.NO_RESOLVER)(facts)


def no_delegation(facts: Facts) -> Match | None:
    """The service delegates a prefix, and the line itself offers none, or a smaller one."""
    expected = facts.around.delegated_bits
    if expected is None:
        return None
    for item, held in _probed(facts):
        probe = held.advertised
        if probe is None or not probe.servers_asked:
            continue
        offered = [d.prefix for one in a.delegations_of(probe) for d in one.delegated]
        if not offered or min(offered) > expected:
            values: dict[str, Scalar] = {
                "expected_bits": expected,
                "bits": min(offered, default=None),
            }
            return Match(evidence=(item.id,), values=values)
    return None


def portals_differ(facts: Facts) -> Match | None:
    """The portal's API is named differently by what hands out addresses (RFC 8910 §3)."""
    items = list(_leases(facts))
    named = a.portals_of(held for _, held in items)
    if len(named) < a.TWICE:
        return None
    values: dict[str, Scalar] = {"page": named[0], "other_page": named[1]}
    evidence = tuple(item.id for item, held in items if a.portals_of((held,)))
    return Match(evidence=evidence, values=values, segment=facts.near_segment())


def _leases(facts: Facts) -> Iterator[tuple[Item, LeaseFacts]]:
    for item in facts.evidence.select(Kind.LEASE):
        if isinstance(item.measurement.observed, LeaseFacts):
            yield item, item.measurement.observed


def _entries(facts: Facts, family: int) -> Iterator[LeaseFacts]:
    return (held for _, held in _leases(facts) if held.family == family)


def _probed(facts: Facts) -> list[tuple[Item, LeaseFacts]]:
    return [(item, held) for item, held in _leases(facts) if held.advertised is not None]


def _told(facts: Facts, fault: AdvertisedFault) -> Iterator[tuple[Item, LeaseFacts]]:
    for item, held in _leases(facts):
        found = a.advertised_statistics(held)
        if found is not None and fault.value in found.faults:
            yield item, held


def _routers(held: LeaseFacts) -> list[tuple[str, str | None]]:
    """Return (address, hardware address) of those that say that they are a way out."""
    probe, view = held.advertised, held.advertised_view
    if probe is not None:
        return [(one.address, one.hardware_address) for one in a.default_routers(probe)]
    return [(one.address, one.hardware_address) for one in (view.routers if view else ())]


def _values(held: LeaseFacts) -> dict[str, Scalar]:
    probe = held.advertised or _NOTHING
    told = a.reversed_prefix(probe)
    first = next((p for one in a.latest_of(probe) for p in one.prefixes), None)
    prefix = told or first
    return {
        "router": next((address for address, _ in _every(held)), None),
        "prefix": None if prefix is None else f"{prefix.network}/{prefix.prefix}",
        "preferred_s": None if prefix is None else prefix.preferred_s,
        "valid_s": None if prefix is None else prefix.valid_s,
        "asked": probe.servers_asked,
    }


def _every(held: LeaseFacts) -> list[tuple[str, str | None]]:
    """Return all routers that spoke, those that are no way out too."""
    if held.advertised is None:
        return _routers(held)
    return [(one.address, one.hardware_address) for one in a.latest_of(held.advertised)]


_NOTHING = AdvertisedProbe(routers_asked=0, servers_asked=0, information_asked=0, listened_s=0.0)

_RESOLVERS = frozenset({"dns-partly-silent"})
"""A resolver's IPv6 address is silent with everything else over IPv6."""

RULES: tuple[Rule, ...] = (
    Rule(
        code="two-ipv6-routers",
        segment=Segment.HOME,
        confidence=0.75,
        next_step="find-second-router",
        test=two_routers,
        needs=(LEASE,),
        hides=_RESOLVERS | {"ipv6-dead"},
    ),
    Rule(
        code="ipv6-prefix-expired",
        segment=Segment.HOME,
        confidence=0.85,
        next_step="renew-ipv6-prefix",
        test=prefix_expired,
        needs=(LEASE,),
        hides=frozenset({"prefix-withdrawn"}),
    ),
    Rule(
        code="ipv6-lifetimes-reversed",
        segment=Segment.HOME,
        confidence=0.85,
        next_step="set-advertised-times",
        test=faulty(AdvertisedFault.REVERSED),
        needs=(LEASE,),
    ),
    Rule(
        code="no-ipv6-router",
        segment=Segment.HOME,
        confidence=0.85,
        next_step="mend-ipv6-router",
        test=faulty(AdvertisedFault.NO_ROUTER),
        needs=(LEASE,),
        hides=_RESOLVERS | {"ipv6-no-route"},
    ),
    Rule(
        code="managed-without-server",
        segment=Segment.HOME,
        confidence=0.8,
        next_step="start-ipv6-server",
        test=managed_without_server,
        needs=(LEASE,),
        hides=_RESOLVERS,
    ),
    Rule(
        code="ipv6-server-without-address",
        segment=Segment.HOME,
        confidence=0.8,
        next_step="start-ipv6-server",
        test=faulty(AdvertisedFault.NO_ADDRESS),
        needs=(LEASE,),
    ),
    Rule(
        code="no-delegated-prefix",
        segment=Segment.OPERATOR,
        confidence=0.7,
        next_step="report-delegation",
        test=no_delegation,
        needs=(LEASE, any_of(Told.DELEGATED_BITS)),
        ruled_out_by=frozenset({Exclusion.BEHIND_HOME}),
    ),
    Rule(
        code="ipv6-without-resolver",
        segment=Segment.HOME,
        confidence=0.7,
        next_step="set-ipv6-resolver",
        test=no_resolver,
        needs=(LEASE,),
    ),
    Rule(
        code="portals-differ",
        segment=Segment.HOME,
        confidence=0.8,
        next_step="name-one-portal",
        test=portals_differ,
        needs=(LEASE,),
    ),
)
