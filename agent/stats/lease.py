"""A lease reduced: is the address usable, and when is it renewed."""

from __future__ import annotations

from ipaddress import ip_address

from agent.measurements import LeaseFacts, LeaseStatistics
from agent.stats.advertised import advertised_statistics

_T1_SHARE = 0.5
_T2_SHARE = 0.875
"""RFC 2131 §4.4.5: the renewal times where the server gives none."""

_INFINITE_S = 0xFFFF_FFFF
"""RFC 2131 §3.3: a lease without end."""

_WITHOUT_ADDRESS = ("none", "self-assigned")
_UNASSIGNED = ("duplicate", "tentative")


def lease_statistics(facts: LeaseFacts) -> LeaseStatistics:
    """Return what is judged of a lease; T1 and T2 by default shares of it where not told."""
    t1, t2 = _timers(facts)
    told = (facts.t1_s, facts.t2_s)
    offers = facts.probe.offers if facts.probe else None
    sessions = facts.pppoe.concentrators if facts.pppoe else ()
    servers = dict.fromkeys(o.server_id for o in offers or () if o.server_id)
    return LeaseStatistics(
        family=facts.family,
        usable=usable(facts),
        origin=facts.origin,
        address=facts.address,
        prefix=facts.prefix,
        gateway=facts.gateway,
        dns=facts.dns,
        server_id=facts.server_id,
        lease_s=facts.lease_s,
        t1_s=t1,
        t2_s=t2,
        timers_assumed=(t1, t2) != told,
        obtained=facts.obtained,
        expires=facts.expires,
        offers=None if offers is None else len(offers),
        servers=tuple(servers),
        first_offer_ms=min((o.after_ms for o in offers or ()), default=None),
        state=facts.state,
        expired_s=facts.expired_s,
        ways=facts.ways,
        leased_routers=facts.leased_routers,
        leased_dns=facts.leased_dns,
        beside=facts.beside,
        concentrators=None if facts.pppoe is None else len(sessions),
        first_concentrator_ms=min((one.after_ms for one in sessions), default=None),
        advertised=advertised_statistics(facts),
    )


def usable(facts: LeaseFacts) -> bool:
    """Tell whether the address can be used beyond this link (RFC 3927 §2.7, RFC 4291 §2.5.6).

    One that another host holds, or is still being asked about, cannot (RFC 4862 §5.4).
    """
    if facts.address is None or facts.origin in _WITHOUT_ADDRESS or facts.state in _UNASSIGNED:
        return False
    try:
        address = ip_address(facts.address.partition("%")[0])
    except ValueError:
        return False
    return not (address.is_link_local or address.is_unspecified)


def _timers(facts: LeaseFacts) -> tuple[int | None, int | None]:
    if facts.lease_s is None or facts.lease_s == _INFINITE_S:
        return facts.t1_s, facts.t2_s
    t1 = int(facts.lease_s * _T1_SHARE) if facts.t1_s is None else facts.t1_s
    t2 = int(facts.lease_s * _T2_SHARE) if facts.t2_s is None else facts.t2_s
    return t1, t2
