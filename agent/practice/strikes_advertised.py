"""Faults of what routers and servers say of IPv6, as they are played on the built network."""

from __future__ import annotations

import time
from collections.abc import Callable
from dataclasses import replace
from functools import partial
from ipaddress import IPv6Network

from agent.codec.router_advertisement import PrefixInfo, RouterAdvertisement
from agent.errors import PracticeBroken
from agent.practice.addresses import Addresses6
from agent.practice.advertising import advertise
from agent.practice.home_switch import GUEST_PORT, put_switch
from agent.practice.services import Service
from agent.practice.stage import LOOK_EVERY_S, READY_WITHIN_S, Stage
from agent.practice.topology import LAPTOP_PORT

SECOND = "second"
LINK_BITS = 64
BESIDE = 0x80
OVER_S = 7200
"""How long a prefix lives on that is preferred no longer; the least that hosts grant it by itself
(RFC 4862 §5.5.3)."""


def second_router(stage: Stage) -> None:
    """Let another router of the home stand on the network with its home side."""
    put_switch(stage, SECOND)


def second_router_advertises(stage: Stage) -> None:
    """Let that router advertise a prefix of its own, and itself as the way out."""
    plan = _plan(stage)
    for name, value in (("accept_dad", 0), ("forwarding", 1), ("disable_ipv6", 0)):
        stage.bench.switch(SECOND, f"net.ipv6.conf.{GUEST_PORT}.{name}", value)
    home = IPv6Network(plan.lan)
    beside = IPv6Network((int(home.network_address) ^ BESIDE << 64, LINK_BITS))
    said = _usual(plan, str(beside.network_address))
    run = partial(advertise, GUEST_PORT, said)
    stage.serve(Service(name="second-advertiser", host=SECOND, run=run))
    _await(lambda: len(_held(stage)) > 1)


def prefix_expired(stage: Stage) -> None:
    """Let the router say that its prefix is preferred no longer."""
    plan = _plan(stage)
    usual = _usual(plan)
    over = replace(usual.prefixes[0], preferred_s=0, valid_s=OVER_S)
    _advertise(stage, replace(usual, prefixes=(over,)))
    _await(lambda: not stage.bench.preferred_6("laptop", LAPTOP_PORT))


def no_default_router(stage: Stage) -> None:
    """Let the router say that it is the way out no longer."""
    _advertise(stage, replace(_usual(_plan(stage)), router_lifetime_s=0))
    _await(lambda: not stage.bench.advertised_ways("laptop", LAPTOP_PORT))


def managed_without_server(stage: Stage) -> None:
    """Let the router send devices to a server for addresses, and no server be there."""
    stage.stop("advertiser")
    stage.bench.forget_addresses_6("laptop", LAPTOP_PORT)
    stage.bench.unroute_6("laptop")
    usual = _usual(_plan(stage))
    link_only = replace(usual.prefixes[0], autonomous=False)
    _advertise(stage, replace(usual, managed=True, prefixes=(link_only,)))
    _await(lambda: bool(stage.bench.advertised_ways("laptop", LAPTOP_PORT)))


def _advertise(stage: Stage, said: RouterAdvertisement) -> None:
    """Advertise from the home router in place of what did so before."""
    stage.stop("advertiser")
    run = partial(advertise, "lan", said)
    stage.serve(Service(name="advertiser", host="router", run=run))


def _usual(plan: Addresses6, network: str | None = None) -> RouterAdvertisement:
    """Return what the home router says; lifetimes by RFC 4861 §6.2.1."""
    home = IPv6Network(plan.lan)
    prefix = PrefixInfo(network=network or str(home.network_address), prefix=LINK_BITS)
    return RouterAdvertisement(
        prefixes=(prefix,), dns=(plan.resolver,), dns_lifetime_s=1800, router_lifetime_s=1800
    )


def _held(stage: Stage) -> tuple[str, ...]:
    return stage.bench.addresses_6("laptop", LAPTOP_PORT)


def _plan(stage: Stage) -> Addresses6:
    if stage.addresses_6 is None:
        raise PracticeBroken(problem="this fault needs a home with IPv6")
    return stage.addresses_6


def _await(done: Callable[[], bool]) -> None:
    """Wait until the laptop has taken what was said. Raises PracticeBroken."""
    deadline = time.monotonic() + READY_WITHIN_S
    while not done():
        if time.monotonic() > deadline:
            raise PracticeBroken(problem="the laptop did not take what the router said")
        time.sleep(LOOK_EVERY_S)


STRIKES = (
    second_router,
    second_router_advertises,
    prefix_expired,
    no_default_router,
    managed_without_server,
)
