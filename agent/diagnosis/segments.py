"""Which part of the way each hop of a walk belongs to: the one place that knows the rule.

A hop's segment is that of the stretch which ends at it: the home's router ends the home, the first
router past the modem ends the access line. What is lost on the way to a hop, and not on the way to
the one before, is lost in its segment.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from ipaddress import IPv4Address, IPv6Address, ip_address, ip_network

from agent.diagnosis.model import Segment
from agent.settings.model import PluggedInto
from agent.stats.address_ranges import SHARED, of_a_home, within

Hops = Sequence[Sequence[str]]
"""The addresses that answered at each distance, from 1 upwards; none for a silent hop."""

_SITE_BITS = 56
"""What a home is commonly given of IPv6 (RFC 6177 §2 names /56 and /48)."""

_NEIGHBOUR_BITS = {4: 24, 6: 48}
"""Common practice, no source: no smaller networks are announced between operators."""

_MOST_FURTHER_ROUTERS = 2
"""Common practice, no source: more private hops than a home has routers are an operator's."""

_NEAR = frozenset({Segment.LAPTOP, Segment.HOME, Segment.MODEM, Segment.UNDETERMINED})
_FAR = frozenset({Segment.ACCESS, Segment.OPERATOR, Segment.BEYOND})


@dataclass(frozen=True, slots=True, kw_only=True)
class Surroundings:
    """What is known of the way before it is walked.

    `own` are the laptop's addresses, `seen` its address as the server sees it. `dialled` tells
    that the laptop holds the PPPoE session itself, so that the next hop is the session's far end.
    `customers` are the prefixes of the operator's customers, `network` those of its own routers
    and servers; both may be empty. `servers` are the operator's server, `outside` are targets that
    are not the operator's. `pools` and `dhcp_servers` are where the service's addresses and DHCP
    servers should be, where the settings say so; `tag` is the VLAN tag that its frames need,
    `delegated_bits` the length of the IPv6 prefix that it delegates.
    """

    plugged_into: PluggedInto = PluggedInto.UNKNOWN
    dialled: bool = False
    own: frozenset[str] = frozenset()
    gateways: frozenset[str] = frozenset()
    modem: str | None = None
    servers: frozenset[str] = frozenset()
    outside: frozenset[str] = frozenset()
    seen: str | None = None
    customers: tuple[str, ...] = ()
    network: tuple[str, ...] = ()
    pools: tuple[str, ...] = ()
    dhcp_servers: tuple[str, ...] = ()
    tag: int | None = None
    delegated_bits: int | None = None

    @property
    def direct(self) -> bool:
        """Tell whether no equipment of the home can stand between laptop and modem."""
        return self.dialled or self.plugged_into in {PluggedInto.MODEM, PluggedInto.ONT}

    def gateway_segment(self, address: str | None = None) -> Segment:
        """Return the segment that ends at the gateway, by the address it answers from.

        A modem that routes has a private address; one that bridges leaves the operator's router
        as the gateway. Where nobody said what the laptop is plugged into, a gateway before which
        nothing was translated may be either.
        """
        address = address or next(iter(sorted(self.gateways)), None)
        if self.direct:
            return self._direct_gateway(address)
        if self.plugged_into is not PluggedInto.UNKNOWN or address is None:
            return Segment.HOME
        if within(address, (SHARED,)):
            return Segment.ACCESS
        untranslated = self.seen in self.own and _version(address) == 4
        return Segment.UNDETERMINED if untranslated and not of_a_home(address) else Segment.HOME

    def _direct_gateway(self, address: str | None) -> Segment:
        if self.dialled:
            return Segment.ACCESS
        if address is None:
            return Segment.UNDETERMINED
        routed = address == self.modem or any(of_a_home(a) for a in (address, *self.gateways))
        return Segment.MODEM if routed else Segment.ACCESS

    def is_operators(self, address: str) -> bool:
        """Tell whether an address past the modem is known to be the operator's.

        So are private and shared addresses there, its prefixes, the surroundings of the address
        that it gave us, and its server unless its own prefixes leave that out.
        """
        if of_a_home(address) or within(address, (SHARED,)):
            return True
        if within(address, (*self.customers, *self.network, *self._around_us())):
            return True
        return address in self.servers and not self.is_others(address)

    def is_others(self, address: str) -> bool:
        """Tell whether an address past the modem is known not to be the operator's."""
        if address in self.outside:
            return True
        known = [p for p in self.network if _version(p) == _version(address)]
        return bool(known) and not within(address, (*known, *self.customers, *self._around_us()))

    def _around_us(self) -> tuple[str, ...]:
        if self.seen is None or _parsed(self.seen) is None or of_a_home(self.seen):
            return ()
        if self.customers and not within(self.seen, self.customers):
            return ()
        bits = _NEIGHBOUR_BITS[_version(self.seen)]
        return (str(ip_network(f"{self.seen}/{bits}", strict=False)),)


def hop_segments(
    hops: Hops, around: Surroundings, target: str | None = None
) -> tuple[Segment, ...]:
    """Return the segment of each hop of a walk to `target`, in the order of `hops`."""
    answered = [_telling(addresses, place) for place, addresses in enumerate(hops)]
    near = _near(answered, around)
    far = _far(answered, around, near, target)
    return _filled(len(hops), {**near, **far}, sure=_edge_is_sure(near, around))


def first_past_modem(hops: Hops, around: Surroundings) -> str | None:
    """Return the first router past the modem that answers a walk to the operator's server.

    None where that is the gateway itself, which has a series of its own, or the server.
    """
    target = next(iter(around.servers), None)
    for place, segment in enumerate(hop_segments(hops, around, target)):
        telling = _telling(hops[place], place)
        if segment in _FAR and telling:
            own_series = place == 0 or telling[0] in around.gateways | around.servers
            return None if own_series else telling[0]
    return None


def _near(answered: Hops, around: Surroundings) -> dict[int, Segment]:
    """Return the hops on this side of the access line, by place."""
    first = answered[0][0] if answered and answered[0] else None
    gateway = around.gateway_segment(first)
    found: dict[int, Segment] = {}
    if answered and not first and gateway in _NEAR:
        found[0] = gateway
    for place, addresses in enumerate(answered):
        if not addresses:
            continue
        segments = {_near_segment(a, place, gateway, around, found) for a in addresses}
        segment = segments.pop()
        if segment is None or segments:
            break
        found[place] = segment
    return _no_home_is_so_deep(found)


def _near_segment(
    address: str, place: int, gateway: Segment, around: Surroundings, found: Mapping[int, Segment]
) -> Segment | None:
    """Return the segment of an address on this side of the line, None for one beyond."""
    if address in around.own:
        return found[max(found)] if found else Segment.LAPTOP
    if address == around.modem:
        return Segment.MODEM
    if address in around.servers | around.outside:
        return None
    if place == 0:
        return gateway if gateway in _NEAR else None
    if gateway is not Segment.HOME or not _follows(place, found) or Segment.MODEM in found.values():
        return None
    ours = address == around.seen or address in around.gateways
    return Segment.HOME if ours or _is_further_router(address, around) else None


def _follows(place: int, found: Mapping[int, Segment]) -> bool:
    """Tell whether nothing silent lies between a hop and the gateway."""
    return all(before in found for before in range(place))


def _is_further_router(address: str, around: Surroundings) -> bool:
    """Tell whether a hop past the gateway is another router of the home."""
    if within(address, around.network):
        return False
    if _version(address) == 6:
        sites = [f"{a}/{_SITE_BITS}" for a in around.own if _version(a) == 6 and not _link_local(a)]
        home = (str(ip_network(site, strict=False)) for site in sites)
        return of_a_home(address) or within(address, home)
    private = [of_a_home(g) for g in around.gateways if _version(g) == 4]
    return of_a_home(address) and all(private) and not within(address, around.customers)


def _no_home_is_so_deep(found: dict[int, Segment]) -> dict[int, Segment]:
    further = [p for p, s in found.items() if p > 0 and s is Segment.HOME]
    if len(further) <= _MOST_FURTHER_ROUTERS:
        return found
    return {**found, **dict.fromkeys(further, Segment.UNDETERMINED)}


def _edge_is_sure(near: Mapping[int, Segment], around: Surroundings) -> bool:
    """Tell whether the hop after the near ones is the first past the modem, silent or not."""
    return around.direct or Segment.MODEM in near.values()


def _far(
    answered: Hops, around: Surroundings, near: Mapping[int, Segment], target: str | None
) -> dict[int, Segment]:
    """Return the hops beyond the modem, by place."""
    start = max(near, default=-1) + 1
    operators = _operators_up_to(answered, around, start, target)
    found: dict[int, Segment] = {}
    for place in range(start, len(answered)):
        if answered[place]:
            edge = place == start and near.get(start - 1) is not Segment.UNDETERMINED
            gap = place > start and not found and not _edge_is_sure(near, around)
            segments = {
                _far_segment(a, around, edge=edge, gap=gap, operators=place <= operators)
                for a in answered[place]
            }
            found[place] = segments.pop() if len(segments) == 1 else Segment.UNDETERMINED
    return found


def _operators_up_to(answered: Hops, around: Surroundings, start: int, target: str | None) -> int:
    """Return the last place known to be the operator's: all before it, past the modem, are too."""
    if target is not None and target in around.servers and not around.is_others(target):
        return len(answered)
    places = range(start, len(answered))
    known = (p for p in places if any(around.is_operators(a) for a in answered[p]))
    return max(known, default=-1)


def _far_segment(
    address: str, around: Surroundings, *, edge: bool, gap: bool, operators: bool
) -> Segment:
    if address in around.outside:
        return Segment.BEYOND
    if edge and address not in around.servers:
        return Segment.ACCESS
    if gap and of_a_home(address) and not within(address, around.network):
        return Segment.UNDETERMINED
    if operators:
        return Segment.OPERATOR
    return Segment.BEYOND if around.is_others(address) else Segment.UNDETERMINED


def _filled(count: int, known: Mapping[int, Segment], *, sure: bool) -> tuple[Segment, ...]:
    """Return all segments: a silent hop has that of its neighbours where they leave no choice."""
    found: list[Segment] = []
    for place in range(count):
        before = found[-1] if found else Segment.NONE
        after = next((known[p] for p in range(place + 1, count) if p in known), None)
        found.append(known.get(place) or _silent(before, after, sure=sure))
    return tuple(found)


def _silent(before: Segment, after: Segment | None, *, sure: bool) -> Segment:
    if after is None:
        return Segment.UNDETERMINED
    if before is after:
        return after
    if sure and before in _NEAR | {Segment.NONE} and after in _FAR:
        return Segment.ACCESS
    between = (before, after) == (Segment.ACCESS, Segment.OPERATOR)
    return Segment.OPERATOR if between else Segment.UNDETERMINED


def _telling(addresses: Sequence[str], place: int) -> tuple[str, ...]:
    """Return the addresses that say where they are; link-local ones do so next door only."""
    return tuple(a for a in addresses if place == 0 or not _link_local(a))


def _link_local(address: str) -> bool:
    parsed = _parsed(address)
    return parsed is not None and parsed.is_link_local


def _version(text: str) -> int:
    """Return 4 or 6; 0 for what is no address, as in a redacted record."""
    parsed = _parsed(text.partition("/")[0])
    return parsed.version if parsed else 0


def _parsed(text: str) -> IPv4Address | IPv6Address | None:
    try:
        return ip_address(text.partition("%")[0])
    except ValueError:
        return None
