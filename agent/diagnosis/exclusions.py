"""General facts that rule findings out, each by a name of its own."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from enum import StrEnum

from agent.diagnosis.facts import Facts
from agent.diagnosis.model import Segment
from agent.measurements import Kind, Medium, Role
from agent.settings.model import Handover


class Exclusion(StrEnum):
    """A fact that rules a finding out, whatever else speaks for it."""

    PASSES = "traffic-passes"
    NOTHING_PASSES = "nothing-passes"
    LINK_DOWN = "link-down"
    ADDRESS_HELD = "address-held"
    IPV4_HELD = "ipv4-address-held"
    SESSION_HANDOVER = "session-handover"
    NO_SESSION_HANDOVER = "no-session-handover"
    NO_LEASE_HANDOVER = "no-lease-handover"
    SESSION_LINK = "session-link"
    BEHIND_HOME = "behind-home"
    GATEWAY_PAST_LINE = "gateway-past-line"
    GATEWAY_SILENT = "gateway-silent"
    MODEM_ASKED = "modem-asked"
    DOWNLOAD_SLOW = "download-slow"

    def holds(self, facts: Facts) -> bool:
        """Tell whether the fact holds."""
        return _HOLDS[self](facts)


WITH_ADDRESS = frozenset({Exclusion.ADDRESS_HELD, Exclusion.LINK_DOWN})
"""A missing address is neither there nor to be expected."""


def _link_down(facts: Facts) -> bool:
    link = facts.evidence.link_statistics()
    return link is not None and not link.up


def _held(facts: Facts, family: int | None = None) -> bool:
    """Tell whether the laptop holds an address that can be used, of a family where given."""
    leases = (i.lease for i in facts.evidence.select(Kind.LEASE) if i.lease is not None)
    return any(one.usable for one in leases if family in {None, one.family})


def _session_link(facts: Facts) -> bool:
    link = facts.evidence.link_statistics()
    return link is not None and link.medium == Medium.PPP


_HOLDS: Mapping[Exclusion, Callable[[Facts], bool]] = {
    Exclusion.PASSES: Facts.passes,
    Exclusion.NOTHING_PASSES: lambda facts: not facts.passes(),
    Exclusion.LINK_DOWN: _link_down,
    Exclusion.ADDRESS_HELD: _held,
    Exclusion.IPV4_HELD: lambda facts: _held(facts, 4),
    Exclusion.SESSION_HANDOVER: lambda facts: facts.circumstances.handover is Handover.PPPOE,
    Exclusion.NO_SESSION_HANDOVER: lambda facts: facts.circumstances.handover is not Handover.PPPOE,
    Exclusion.NO_LEASE_HANDOVER: lambda facts: facts.circumstances.handover is not Handover.DHCP,
    Exclusion.SESSION_LINK: _session_link,
    Exclusion.BEHIND_HOME: lambda facts: facts.behind_home,
    Exclusion.GATEWAY_PAST_LINE: lambda facts: facts.gateway_segment is Segment.ACCESS,
    Exclusion.GATEWAY_SILENT: lambda facts: facts.silent(Role.GATEWAY),
    Exclusion.MODEM_ASKED: lambda facts: facts.series(Role.MODEM) is not None,
    Exclusion.DOWNLOAD_SLOW: lambda facts: bool(facts.missed("throughput-down")),
}
