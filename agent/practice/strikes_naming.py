"""What the faults of names do to the built network; all before the laptop takes its lease."""

from __future__ import annotations

from dataclasses import replace
from functools import partial

from agent.errors import PracticeBroken
from agent.practice.addresses import Addresses
from agent.practice.bent_names import Bend, serve_bent
from agent.practice.filtering import strike_packets
from agent.practice.homes import HOMES
from agent.practice.kernel import inside
from agent.practice.naming import names_6
from agent.practice.services import (
    DNS_PORT,
    Service,
    dhcp_service,
    find,
    mute,
    resolver_service,
)
from agent.practice.stage import Stage
from agent.practice.topology import giver_of_addresses

BEHIND = "127.0.0.1"
PRIVATE = "100.127.255.9"
"""From the shared range (RFC 6598), beyond what the core's links take of it."""

PLAIN_OCTETS = 512
UDP_HEADER = 8


def dns_first_dead(stage: Stage) -> None:
    """Let the router hand out a resolver that is silent, and the right one after it."""
    with inside(stage.bench.networks["outside"]):
        stage.silent.extend(mute(stage.addresses.outside, DNS_PORT))
    _hand_out(stage, (stage.addresses.outside, stage.addresses.resolver))


def dns_slow_150(stage: Stage) -> None:
    """Let the resolver take its time."""
    _bend(stage, Bend(delay_s=0.15))


def dns_slow_400(stage: Stage) -> None:
    """Let the resolver take its time."""
    _bend(stage, Bend(delay_s=0.4))


def dns_slow_1200(stage: Stage) -> None:
    """Let the resolver take its time."""
    _bend(stage, Bend(delay_s=1.2))


def dns_fails(stage: Stage) -> None:
    """Let the resolver answer every question with a server failure."""
    _bend(stage, Bend(fails=True))


def dns_rewrites(stage: Stage) -> None:
    """Let the resolver give an address for every name that does not exist."""
    real = _resolver(stage, stage.addresses)
    if not isinstance(real.run, tuple):
        raise PracticeBroken(problem="a rewriting resolver needs dnsmasq")
    _put(stage, replace(real, run=(*real.run, f"--address=/#/{stage.addresses.outside}")))


def dns_private(stage: Stage) -> None:
    """Let the resolver lead every web site to a private address."""
    sites = tuple(replace(site, address=PRIVATE) for site in stage.addresses.sites)
    _put(stage, _resolver(stage, replace(stage.addresses, sites=sites)))


def dns_disagrees(stage: Stage) -> None:
    """Let the router hand out a second resolver that knows another address of the server."""
    second = replace(
        stage.addresses,
        resolver=stage.addresses.outside,
        server=stage.addresses.sites[0].address,
    )
    folder = stage.scratch / "second"
    folder.mkdir()
    dnsmasq = find("dnsmasq") if stage.spec.real_servers else None
    stage.serve(replace(resolver_service(second, folder, dnsmasq), name="second resolver"))
    _hand_out(stage, (stage.addresses.resolver, stage.addresses.outside))


def dns_without_tcp(stage: Stage) -> None:
    """Let nothing reach the resolver over TCP."""
    strike_packets(stage, "outside", "input", f"tcp dport {DNS_PORT} drop")


def dns_above_512_lost(stage: Stage) -> None:
    """Let no long answer leave over UDP, as an old firewall does (RFC 6891 §6.2.6)."""
    longest = PLAIN_OCTETS + UDP_HEADER
    strike_packets(stage, "outside", "output", f"udp sport {DNS_PORT} udp length > {longest} drop")


def _hand_out(stage: Stage, resolvers: tuple[str, ...]) -> None:
    dnsmasq = find("dnsmasq") if stage.spec.real_servers else None
    stage.stop("dhcp")
    addresses = replace(stage.addresses, leased_resolvers=resolvers)
    at = giver_of_addresses(stage.spec)
    stage.serve(dhcp_service(addresses, stage.scratch, dnsmasq, at=at))


def _bend(stage: Stage, bend: Bend) -> None:
    """Put a bending server where the resolver was, and the resolver behind it."""
    plan_6 = stage.addresses_6
    at = (stage.addresses.resolver, *((plan_6.resolver,) if plan_6 else ()))
    behind = _resolver(stage, replace(stage.addresses, resolver=BEHIND), alone=True)
    stage.stop("resolver")
    stage.serve(replace(behind, name="resolver behind"))
    run = partial(serve_bent, at, DNS_PORT, (BEHIND, DNS_PORT), bend)
    listens = (stage.addresses.resolver, DNS_PORT)
    stage.serve(Service(name="resolver", host="outside", run=run, listens=listens))


def _put(stage: Stage, resolver: Service) -> None:
    stage.stop("resolver")
    stage.serve(resolver)


def _resolver(stage: Stage, addresses: Addresses, *, alone: bool = False) -> Service:
    """Return the operator's resolver over other addresses; `alone` it is reached over no IPv6."""
    dnsmasq = find("dnsmasq") if stage.spec.real_servers else None
    plan_6 = stage.addresses_6
    translated = HOMES[stage.spec.home].translation
    return resolver_service(
        addresses,
        stage.scratch,
        dnsmasq,
        addresses_6=None if alone else plan_6,
        names=names_6(addresses, plan_6, translated=translated) if plan_6 else None,
    )


STRIKES = (
    dns_first_dead,
    dns_slow_150,
    dns_slow_400,
    dns_slow_1200,
    dns_fails,
    dns_rewrites,
    dns_private,
    dns_disagrees,
    dns_without_tcp,
    dns_above_512_lost,
)
