"""By what means delay to a far end is timed, in which order they are tried, and how fast each may.

ICMP echo comes first. Where the system refuses it, a UDP datagram to a port that nobody listens on
is answered by ICMP "port unreachable", and a TCP connection by a SYN-ACK or a RST: both are as
true a round trip, from another part of the far end.
"""

from __future__ import annotations

from collections.abc import Callable

from agent.errors import RightMissing
from agent.measurements import Role
from agent.ports.datagram import ProbeSocket
from agent.settings.model import EchoPlan

STAMP = "stamp"
ICMP_ECHO = "icmp-echo"
UDP_UNREACHABLE = "udp-unreachable"
TCP_CONNECT = "tcp-connect"

UNLIKELY_PORT = 33_434
"""A UDP port on which hosts do not listen; common practice, no source."""

WEB_PORT = 80
"""Where a home's equipment has its pages; closed, it answers with a RST and serves as well."""

ERRORS_INTERVAL_S = 1.0
MOST_ERRORS = 5
"""Hosts limit the errors they send (RFC 1812 §4.3.2.8), Linux to six at once and then one each
second to one address: as many as that are asked for, with room for the walk that came before."""

CONNECT_INTERVAL_S = 0.05
"""Each connection costs the far end a turn: 20 a second are ordinary for any device."""

PORT_UNREACHABLE = {4: (3, 3), 6: (1, 4)}
"""Type and code by family (RFC 792; RFC 4443 §3.1)."""

Opener = Callable[[str, int], ProbeSocket]
"""Opens a socket for a method and a port; raises CannotMeasure."""


def means_for(role: Role) -> tuple[str, ...]:
    """Return the methods of echo in the order in which they are tried towards a role.

    Routers refuse a datagram sooner than they accept a connection; a server is there for them.
    """
    others = (UDP_UNREACHABLE, TCP_CONNECT)
    return (ICMP_ECHO, *(reversed(others) if role in {Role.SERVER, Role.OUTSIDE} else others))


def after(method: str, role: Role) -> str | None:
    """Return the method tried next towards a role, None after the last and for STAMP."""
    means = means_for(role)
    rest = means[means.index(method) + 1 :] if method in means else ()
    return rest[0] if rest else None


def port_of(method: str, connect_port: int) -> int:
    """Return the port that probes of an echo method go to; 0 where there are no ports."""
    return {UDP_UNREACHABLE: UNLIKELY_PORT, TCP_CONNECT: connect_port}.get(method, 0)


def paced(plan: EchoPlan, method: str) -> EchoPlan:
    """Return the plan as the method can bear it: the same span of time, or less, with fewer probes.

    Only the errors of ICMP need longer where the plan is shorter than five of them.
    """
    if method == UDP_UNREACHABLE:
        return _slower(plan, ERRORS_INTERVAL_S, MOST_ERRORS)
    if method == TCP_CONNECT:
        return _slower(plan, CONNECT_INTERVAL_S, 1)
    return plan


def open_first(
    opener: Opener, method: str, role: Role, connect_port: int
) -> tuple[str, ProbeSocket]:
    """Return the first method from `method` on that the system allows, with its socket open.

    Raises CannotMeasure for any other refusal, and RightMissing where nothing is allowed.
    """
    while True:
        try:
            return method, opener(method, port_of(method, connect_port))
        except RightMissing:
            following = after(method, role)
            if following is None:
                raise
            method = following


def _slower(plan: EchoPlan, interval_s: float, least: int) -> EchoPlan:
    slow_s = max(plan.interval_s, interval_s)
    span_s = plan.count * plan.interval_s
    count = max(min(plan.count, least), round(span_s / slow_s))
    return plan.model_copy(update={"interval_s": slow_s, "count": count})
