"""What the faults of IPv6 do to the built network."""

from __future__ import annotations

import select
import socket
from collections.abc import Mapping, Sequence
from contextlib import suppress
from functools import partial

from agent.codec.reader import Reader
from agent.errors import MalformedMessage
from agent.practice.filtering import strike_packets
from agent.practice.services import DNS_PORT, WEB_PORT, Service
from agent.practice.simple import LARGEST, answer_name
from agent.practice.stage import Stage

TYPE_AAAA = 28
"""RFC 3596 §2.1."""


def ipv6_no_route(stage: Stage) -> None:
    """Let the router advertise the prefix, and itself as no default router (RFC 4861 §4.2)."""
    stage.router_lifetime_s = 0


def ipv6_no_uplink(stage: Stage) -> None:
    """Take the way out from the router, which goes on to say that it is one."""
    stage.bench.unroute_6("router")


def ipv6_dead_beyond(stage: Stage) -> None:
    """Let the edge forward nothing of IPv6."""
    strike_packets(stage, "edge", "forward", "meta nfproto ipv6 drop")


def ipv6_above_1480_lost(stage: Stage) -> None:
    """Let the edge forward nothing of IPv6 that is larger."""
    _lose_above(stage, 1480)


def ipv6_above_1400_lost(stage: Stage) -> None:
    """Let the edge forward nothing of IPv6 that is larger."""
    _lose_above(stage, 1400)


def ipv6_above_1280_lost(stage: Stage) -> None:
    """Let the edge forward nothing of IPv6 that is larger than every link must carry."""
    _lose_above(stage, 1280)


def ipv6_site_mute(stage: Stage) -> None:
    """Let one site take nothing over IPv6."""
    plan = stage.addresses_6
    if plan is not None:
        mute = f"ip6 daddr {plan.sites[0]} tcp dport {WEB_PORT} drop"
        strike_packets(stage, "outside", "input", mute)


def ipv6_names_silent(stage: Stage) -> None:
    """Put a resolver in place that answers no question for IPv6 addresses."""
    plan = stage.addresses_6
    at = (stage.addresses.resolver, *((plan.resolver,) if plan else ()))
    stage.stop("resolver")
    run = partial(serve_ipv4_names, at, stage.addresses.names)
    stage.serve(Service(name="resolver", host="outside", run=run))


def serve_ipv4_names(addresses: Sequence[str], names: Mapping[str, str]) -> None:
    """Answer queries over UDP for ever; those for IPv6 addresses meet silence."""
    sockets = [_listening(address) for address in addresses]
    while True:
        for server in select.select(sockets, (), ())[0]:
            query, client = server.recvfrom(LARGEST)
            with suppress(MalformedMessage):
                if _asked(query) != TYPE_AAAA:
                    server.sendto(answer_name(query, names), client)


def _listening(address: str) -> socket.socket:
    family = socket.AF_INET6 if ":" in address else socket.AF_INET
    server = socket.socket(family, socket.SOCK_DGRAM)
    server.bind((address, DNS_PORT))
    return server


def _asked(query: bytes) -> int:
    """Return the type of the one question (RFC 1035 §4.1.2)."""
    reader = Reader(query, message="DNS query")
    reader.bytes(12)
    while length := reader.u8():
        reader.bytes(length)
    return reader.u16()


def _lose_above(stage: Stage, size_bytes: int) -> None:
    strike_packets(stage, "edge", "forward", f"meta nfproto ipv6 meta length > {size_bytes} drop")


STRIKES = (
    ipv6_no_route,
    ipv6_no_uplink,
    ipv6_dead_beyond,
    ipv6_above_1480_lost,
    ipv6_above_1400_lost,
    ipv6_above_1280_lost,
    ipv6_site_mute,
    ipv6_names_silent,
)
