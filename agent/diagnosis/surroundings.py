"""What a visit's evidence tells of the way, as the rule of segments takes it."""

from __future__ import annotations

from collections.abc import Iterator

from agent.assessment.circumstances import Circumstances
from agent.assessment.evidence import Evidence
from agent.diagnosis.model import WalkSegments
from agent.diagnosis.segments import Surroundings, hop_segments
from agent.measurements import Kind, Medium, Role
from agent.settings.model import Line


def surroundings_of(evidence: Evidence, circumstances: Circumstances, line: Line) -> Surroundings:
    """Return what is known of the way: stated, configured, held by the laptop, seen by the server.

    An outside target that is the operator's server as well counts as the server.
    """
    held = [i.lease for i in evidence.select(Kind.LEASE) if i.lease is not None]
    link = evidence.link_statistics()
    servers = frozenset(_aimed_at(evidence, Role.SERVER))
    modems = _aimed_at(evidence, Role.MODEM)
    return Surroundings(
        plugged_into=circumstances.plugged_into,
        dialled=link is not None and link.medium == Medium.PPP,
        own=frozenset(lease.address for lease in held if lease.address),
        gateways=frozenset(
            (*_aimed_at(evidence, Role.GATEWAY), *(h.gateway for h in held if h.gateway))
        ),
        modem=line.modem_address or next(modems, None),
        servers=servers,
        outside=frozenset(_aimed_at(evidence, Role.OUTSIDE)) - servers,
        seen=circumstances.seen_address,
        customers=line.operator_prefixes,
        network=line.network_prefixes,
        tag=line.vlan_id,
        pools=line.expected_pools,
        dhcp_servers=line.expected_dhcp_servers,
        delegated_bits=line.expected_delegation_bits,
    )


def walk_segments(evidence: Evidence, around: Surroundings) -> tuple[WalkSegments, ...]:
    """Return the segment of each hop of each walk."""
    return tuple(
        WalkSegments(
            measurement=item.id,
            hops=hop_segments(
                [hop.addresses for hop in item.path.hops], around, item.measurement.address
            ),
        )
        for item in evidence.select(Kind.PATH)
        if item.path is not None
    )


def _aimed_at(evidence: Evidence, role: Role) -> Iterator[str]:
    """Yield the addresses that the delay series and walks to a role went to."""
    for kind in (Kind.DELAY, Kind.PATH):
        for item in evidence.select(kind, role):
            if item.measurement.address:
                yield item.measurement.address
