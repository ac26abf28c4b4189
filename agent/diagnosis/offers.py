"""What hands out addresses here: servers that offer, refuse, contradict or stay silent."""

from __future__ import annotations

from collections.abc import Callable, Iterator

from agent.assessment.evidence import Item
from agent.diagnosis.exclusions import Exclusion
from agent.diagnosis.facts import Facts
from agent.diagnosis.groups import ALL_BEYOND, SERVICES
from agent.diagnosis.model import Segment
from agent.diagnosis.needs import LEASE, Told, any_of
from agent.diagnosis.rule import Match, Rule
from agent.measurements import Kind, LeaseFacts, LeaseProbe, Nak, Offer, Scalar
from agent.stats import offers as o
from agent.stats.address_ranges import PRIVATE, of_a_home, within
from agent.stats.lease import usable
from agent.stats.offers import Fault, OfferingServer

_FROM_OUTSIDE = ("dhcp", "ppp")
_TWICE = 2


def pool_exhausted(facts: Facts) -> Match | None:
    """A server is there, no address is: it says no to a question, or speaks to others alone."""
    item, probe = _without_address(facts)
    if item is None or probe is None or probe.offers or _refused(probe):
        return None
    server = next((nak.server_id for nak in probe.naks if nak.server_id), None)
    server = server or next(iter(probe.overheard), None)
    if server is None and not probe.naks:
        return None
    return _by_server(facts, item, {"server": server})


def lease_refused(facts: Facts) -> Match | None:
    """A server says no to what the laptop's own system asks for."""
    item, probe = _without_address(facts)
    naks = _refused(probe) if probe is not None else ()
    if item is None or not naks:
        return None
    return _by_server(facts, item, {"server": naks[0].server_id, "naks": len(naks)})


def lease_not_taken(facts: Facts) -> Match | None:
    """A server offers an address, the laptop holds none."""
    item, probe = _without_address(facts)
    offered = [one for one in probe.offers if one.address != o.NO_ADDRESS] if probe else []
    if item is None or not offered:
        return None
    first = offered[0]
    return Match(evidence=(item.id,), values={"server": first.server_id, "address": first.address})


def two_servers(facts: Facts) -> Match | None:
    """More than one device offers addresses; that of the gateway is the wanted one."""
    for item, probe in _probed(facts):
        servers = o.servers_of(probe)
        if len(servers) < _TWICE:
            continue
        wanted = _wanted(item, servers)
        others = [one for one in servers if one is not wanted] if wanted else list(servers)
        values: dict[str, Scalar] = {
            "servers": len(servers),
            "server": others[-1].server_id,
            "hardware_address": others[-1].hardware_address,
            "gateway": wanted.server_id if wanted else None,
        }
        place = Segment.HOME if facts.behind_home else Segment.ACCESS
        return Match(evidence=(item.id,), values=values, segment=place)
    return None


def server_gone(facts: Facts) -> Match | None:
    """The laptop holds a server's lease, and nobody offers any more."""
    for item, probe in _probed(facts):
        held = _held(item)
        silent = probe.sent >= _TWICE and not (probe.offers or probe.naks or probe.overheard)
        from_server = held is not None and held.origin == "dhcp" and usable(held)
        if silent and from_server:
            return _near(facts, item, {"server": held.server_id if held else None})
    return None


def held_in_use(facts: Facts) -> Match | None:
    """Another station says that it has the laptop's address."""
    return _in_use(facts, held=True)


def offered_in_use(facts: Facts) -> Match | None:
    """Another station says that it has an address that is offered."""
    return _in_use(facts, held=False)


def _in_use(facts: Facts, *, held: bool) -> Match | None:
    for item, probe in _probed(facts):
        use = next((one for one in probe.in_use if one.held is held), None)
        if use is not None:
            values: dict[str, Scalar] = {
                "address": use.address,
                "hardware_address": use.hardware_address,
            }
            place = Segment.HOME if facts.behind_home else Segment.ACCESS
            return Match(evidence=(item.id,), values=values, segment=place)
    return None


def given_wrong(fault: Fault) -> Callable[[Facts], Match | None]:
    """Return the test whether what the wanted server gives has a fault."""

    def test(facts: Facts) -> Match | None:
        for item in _leases(facts):
            found = _fault_of(item, fault)
            if found is not None:
                return _by_server(facts, item, found)
        return None

    return test


def other_pool(facts: Facts) -> Match | None:
    """The address is of another pool than the service sold, as behind a swapped drop."""
    pools = facts.around.pools
    for item in _leases(facts):
        held = _held(item)
        addresses = [one.address for one in _wanted_offers(item)]
        if held is not None and held.address and held.origin in _FROM_OUTSIDE:
            addresses.insert(0, held.address)
        for address in addresses:
            if pools and _judged(facts, address) and not within(address, pools):
                return Match(evidence=(item.id,), values={"address": address})
    return None


def other_server(facts: Facts) -> Match | None:
    """A server stands where the settings expect none."""
    expected = facts.around.dhcp_servers
    for item in _leases(facts):
        held = _held(item)
        named = [one.server_id for one in _wanted_offers(item)]
        if held is not None and held.origin == "dhcp":
            named.insert(0, held.server_id)
        for server in named:
            if expected and server is not None and not within(server, expected):
                return Match(evidence=(item.id,), values={"server": server})
    return None


def _leases(facts: Facts) -> Iterator[Item]:
    return (i for i in facts.evidence.select(Kind.LEASE) if _held(i) is not None)


def _held(item: Item) -> LeaseFacts | None:
    observed = item.measurement.observed
    return observed if isinstance(observed, LeaseFacts) else None


def _probed(facts: Facts) -> Iterator[tuple[Item, LeaseProbe]]:
    for item in _leases(facts):
        held = _held(item)
        if held is not None and held.probe is not None:
            yield item, held.probe


def _without_address(facts: Facts) -> tuple[Item | None, LeaseProbe | None]:
    """Return the first probed lease, for what is said only where no IPv4 address is held."""
    return next(_probed(facts), (None, None))


def _refused(probe: LeaseProbe) -> tuple[Nak, ...]:
    return tuple(nak for nak in probe.naks if nak.to_system)


def _near(facts: Facts, item: Item, values: dict[str, Scalar]) -> Match:
    return Match(evidence=(item.id,), values=values, segment=facts.near_segment())


def _by_server(facts: Facts, item: Item, values: dict[str, Scalar]) -> Match:
    """Return the match of what a server does, in the segment that it stands in.

    At the modem that is the operator's, unless its address is one for use in homes: the modem's.
    """
    server = values.get("server")
    if facts.behind_home or not isinstance(server, str) or of_a_home(server):
        return _near(facts, item, values)
    return Match(
        evidence=(item.id,),
        values=values,
        segment=Segment.OPERATOR,
        next_step="refer-to-operator",
    )


def _wanted(item: Item, servers: tuple[OfferingServer, ...]) -> OfferingServer | None:
    """Return the server of the gateway, else that of the lease held, else None."""
    held = _held(item)
    known = [held.gateway, held.server_id] if held is not None else []
    return next((s for one in known if one for s in servers if s.server_id == one), None)


def _wanted_offers(item: Item) -> tuple[Offer, ...]:
    """Return the offers of the wanted server, of all where none is known."""
    held = _held(item)
    if held is None or held.probe is None:
        return ()
    wanted = _wanted(item, o.servers_of(held.probe))
    return wanted.offers if wanted else held.probe.offers


def _fault_of(item: Item, fault: Fault) -> dict[str, Scalar] | None:
    """Return the values of a fault in what is offered, or where nothing is, in what is held."""
    for offer in _wanted_offers(item):
        if fault in o.offer_faults(offer):
            return _values(offer.server_id, offer.lease_s, offer.t1_s, offer.t2_s)
    held = _held(item)
    unprobed = held is not None and (held.probe is None or not held.probe.offers)
    if held is None or not unprobed or held.origin != "dhcp" or held.family != 4:
        return None
    if fault in o.held_faults(held):
        return _values(held.server_id, held.lease_s, held.t1_s, held.t2_s)
    return None


def _values(
    server: str | None, lease_s: int | None, t1_s: int | None, t2_s: int | None
) -> dict[str, Scalar]:
    return {"server": server, "lease_s": lease_s, "t1_s": t1_s, "t2_s": t2_s}


def _judged(facts: Facts, address: str) -> bool:
    """Tell whether a pool says anything of an address: a home's own private ones are its own.

    So is what a modem gives that is the gateway itself, as one does that has not registered yet.
    """
    if address == o.NO_ADDRESS or ":" in address:
        return False
    if facts.around.modem is not None and facts.around.modem in facts.around.gateways:
        return False
    own = facts.behind_home and within(address, PRIVATE)
    return not own or any(within(pool.partition("/")[0], PRIVATE) for pool in facts.around.pools)


RULES: tuple[Rule, ...] = (
    Rule(
        code="pool-exhausted",
        segment=Segment.HOME,
        confidence=0.85,
        next_step="widen-address-pool",
        test=pool_exhausted,
        needs=(LEASE,),
        ruled_out_by=frozenset({Exclusion.NO_LEASE_HANDOVER, Exclusion.IPV4_HELD}),
        hides=ALL_BEYOND | {"no-lease"},
    ),
    Rule(
        code="lease-refused",
        segment=Segment.HOME,
        confidence=0.85,
        next_step="clear-refused-lease",
        test=lease_refused,
        needs=(LEASE,),
        ruled_out_by=frozenset({Exclusion.NO_LEASE_HANDOVER, Exclusion.IPV4_HELD}),
        hides=ALL_BEYOND | {"no-lease", "lease-not-taken"},
    ),
    Rule(
        code="lease-not-taken",
        segment=Segment.LAPTOP,
        confidence=0.6,
        next_step="ask-for-address-again",
        test=lease_not_taken,
        needs=(LEASE,),
        ruled_out_by=frozenset({Exclusion.NO_LEASE_HANDOVER, Exclusion.IPV4_HELD}),
        hides=ALL_BEYOND | {"no-lease"},
    ),
    Rule(
        code="two-dhcp-servers",
        segment=Segment.HOME,
        confidence=0.85,
        next_step="find-second-dhcp-server",
        test=two_servers,
        needs=(LEASE,),
    ),
    Rule(
        code="address-in-use",
        segment=Segment.HOME,
        confidence=0.85,
        next_step="find-address-user",
        test=held_in_use,
        needs=(LEASE,),
        hides=ALL_BEYOND | {"lease-server-silent"},
    ),
    Rule(
        code="offered-address-in-use",
        segment=Segment.HOME,
        confidence=0.8,
        next_step="find-address-user",
        test=offered_in_use,
        needs=(LEASE,),
    ),
    Rule(
        code="offer-without-router",
        segment=Segment.HOME,
        confidence=0.9,
        next_step="set-router-option",
        test=given_wrong(Fault.NO_ROUTER),
        needs=(LEASE,),
        hides=ALL_BEYOND,
    ),
    Rule(
        code="offer-without-dns",
        segment=Segment.HOME,
        confidence=0.85,
        next_step="set-dns-option",
        test=given_wrong(Fault.NO_DNS),
        needs=(LEASE,),
        hides=SERVICES - {"server-silent", "delay-high", "delay-rises-under-load"},
    ),
    Rule(
        code="mask-misfits-router",
        segment=Segment.HOME,
        confidence=0.85,
        next_step="set-mask-option",
        test=given_wrong(Fault.MASK),
        needs=(LEASE,),
    ),
    Rule(
        code="lease-time-zero",
        segment=Segment.HOME,
        confidence=0.85,
        next_step="set-lease-times",
        test=given_wrong(Fault.NO_TIME),
        needs=(LEASE,),
    ),
    Rule(
        code="timers-out-of-order",
        segment=Segment.HOME,
        confidence=0.8,
        next_step="set-lease-times",
        test=given_wrong(Fault.TIMERS),
        needs=(LEASE,),
    ),
    Rule(
        code="lease-server-silent",
        segment=Segment.HOME,
        confidence=0.5,
        next_step="restart-router",
        test=server_gone,
        needs=(LEASE,),
        ruled_out_by=frozenset({Exclusion.GATEWAY_SILENT}),
    ),
    Rule(
        code="address-of-another-pool",
        segment=Segment.ACCESS,
        confidence=0.75,
        next_step="check-drop",
        test=other_pool,
        needs=(LEASE, any_of(Told.POOLS)),
        hides=frozenset({"other-profile", "slow-line"}),
    ),
    Rule(
        code="unexpected-dhcp-server",
        segment=Segment.ACCESS,
        confidence=0.7,
        next_step="check-drop",
        test=other_server,
        needs=(LEASE, any_of(Told.DHCP_SERVERS)),
    ),
)
