"""Puts one line on stage: network, relay, services, the laptop's lease, the fault."""

from __future__ import annotations

import os
import time
from dataclasses import dataclass
from pathlib import Path

from agent.errors import PracticeBroken
from agent.practice import fault, faults
from agent.practice.addresses import plan_addresses
from agent.practice.bench import Bench
from agent.practice.bending import bend_path
from agent.practice.homes import HOMES
from agent.practice.kernel import inside
from agent.practice.line import LineSpec
from agent.practice.modem import listen_at_home_port
from agent.practice.naming import names_6
from agent.practice.open_ports import mail_service
from agent.practice.oslease import Lease, lease_file, resolver_file, take_lease
from agent.practice.privacy import furnish_laptop
from agent.practice.relay import OWN_DELAY_S, RelayPlan, Way, run_relay
from agent.practice.services import (
    DNS_PORT,
    NAT_RULES,
    Service,
    advertising_service,
    dhcp_service,
    find,
    listening,
    mute,
    resolver_service,
    translating_service,
)
from agent.practice.sites import web_service
from agent.practice.spawn import fork_into
from agent.practice.stage import LOOK_EVERY_S, READY_WITHIN_S, Stage
from agent.practice.strikes import STRIKES
from agent.practice.time_server import time_service
from agent.practice.topology import (
    LAPTOP_PORT,
    RELAY_PORTS,
    core_names,
    giver_of_addresses,
    home_routers,
    lay_out,
)
from agent.practice.upstream import play_upstream
from agent.units import MS_PER_S


@dataclass(frozen=True, slots=True, kw_only=True)
class Played:
    """What came of building: the laptop's address, whether the home router translates."""

    laptop: str | None
    translates: bool
    built_in: tuple[str, ...]


def put_on(spec: LineSpec, scratch: Path, counters: int, log: int) -> tuple[Stage, Played]:
    """Return the running stage of a line. Raises PracticeRefused, PracticeBroken."""
    struck = faults.as_struck(spec)
    routers = HOMES[struck.home].routers
    addresses = plan_addresses(spec.seed, struck.hops, routers=routers)
    stage = Stage(Bench(), struck, addresses, scratch)
    lay_out(stage.bench, struck, addresses)
    stage.files = furnish_laptop(stage.bench.networks["laptop"], scratch)
    _start_relay(stage, counters, log)
    play_upstream(stage)
    translates = _translate(stage)
    nft = _tool(struck, "nft")
    if not routers and nft:
        listen_at_home_port(stage, nft)
    bend_path(stage, nft)
    _warm(stage)
    _start_services(stage)
    _prepare(stage)
    laptop = _connect_laptop(stage) if HOMES[struck.home].ipv4 else None
    if struck.ipv6:
        _connect_over_ipv6(stage)
    _strike(stage)
    return stage, Played(
        laptop=laptop,
        translates=translates,
        built_in=tuple(name for name in ("dnsmasq", "nginx", "nft") if not _tool(struck, name)),
    )


def _tool(spec: LineSpec, name: str) -> str | None:
    return find(name) if spec.real_servers else None


def _start_relay(stage: Stage, counters: int, log: int) -> None:
    spec = stage.spec
    plan = RelayPlan(
        ports=RELAY_PORTS,
        up=_way(spec, spec.loss_up),
        down=_way(spec, spec.loss_down),
        seed=spec.seed,
        whole_super_frames=not spec.frame_by_frame,
        counters=counters,
        log=log,
        dark_s=spec.dark_s,
        dark_every_s=spec.dark_every_s,
    )
    heard, ready = os.pipe()

    stage.services["relay"] = fork_into(stage.place("line"), lambda: run_relay(plan, ready))
    os.close(ready)
    os.read(heard, 1)
    os.close(heard)


def _way(spec: LineSpec, loss: float) -> Way:
    return Way(
        delay_s=max(0.0, spec.rtt_ms / 2 / MS_PER_S - OWN_DELAY_S),
        jitter_s=spec.jitter_ms / MS_PER_S,
        loss=loss,
        burst=spec.burst,
        reorder=spec.reorder,
        reorder_s=spec.reorder_ms / MS_PER_S,
        duplicate=spec.duplicate,
    )


def _translate(stage: Stage) -> bool:
    """Let the home router translate addresses; without nftables the edge learns the way in."""
    nft = _tool(stage.spec, "nft")
    routers = home_routers(stage.spec)
    if not routers:
        return False
    if nft and all(stage.run_now(one, (nft, "-f", "-"), NAT_RULES) for one in routers):
        return True
    addresses = stage.addresses
    stage.bench.route("edge", addresses.lan, addresses.wan)
    for name in core_names(stage.spec.hops):
        place = core_names(stage.spec.hops).index(name)
        stage.bench.route(name, addresses.lan, addresses.core[place][0])
    return False


def _warm(stage: Stage) -> None:
    """Let neighbours on both sides of the line learn each other, as on a line long in use."""
    nearest = (*home_routers(stage.spec), "edge")[0]
    with inside(stage.bench.networks[nearest]):
        listening(stage.addresses.server, DNS_PORT)


def _start_services(stage: Stage) -> None:
    silent = faults.silent_services(stage.spec)
    dnsmasq = _tool(stage.spec, "dnsmasq")
    home, plan_6 = HOMES[stage.spec.home], stage.addresses_6
    nginx = _tool(stage.spec, "nginx")
    stage.serve(web_service(stage.addresses, stage.scratch, nginx, addresses_6=plan_6))
    stage.serve(time_service(stage.addresses.outside))
    stage.serve(mail_service(stage.addresses))
    if home.translation:
        stage.serve(translating_service("eth0"))
    if fault.DHCP not in silent and stage.spec.handover == "dhcp" and home.ipv4:
        at = giver_of_addresses(stage.spec)
        stage.serve(dhcp_service(stage.addresses, stage.scratch, dnsmasq, at=at))
    if fault.RESOLVER not in silent:
        stage.serve(_resolver(stage, dnsmasq))
        return
    with inside(stage.bench.networks["outside"]):
        for address in _resolvers(stage):
            stage.silent.extend(mute(address, DNS_PORT))


def _resolver(stage: Stage, dnsmasq: str | None) -> Service:
    plan_6, addresses = stage.addresses_6, stage.addresses
    translated = HOMES[stage.spec.home].translation
    names = names_6(addresses, plan_6, translated=translated) if plan_6 else None
    return resolver_service(addresses, stage.scratch, dnsmasq, addresses_6=plan_6, names=names)


def _resolvers(stage: Stage) -> tuple[str, ...]:
    """Return the addresses of the operator's resolver."""
    plan_6 = stage.addresses_6
    return (stage.addresses.resolver, *((plan_6.resolver,) if plan_6 else ()))


def _connect_laptop(stage: Stage) -> str | None:
    """Take a lease, or on another handover set what its own dialogue would have given."""
    bench, addresses = stage.bench, stage.addresses
    if stage.spec.handover != "dhcp":
        bench.address("laptop", LAPTOP_PORT, addresses.laptop, 24)
        bench.route("laptop", "default", addresses.router)
        (stage.scratch / "resolv.conf").write_text(resolver_file((addresses.resolver,)))
        return addresses.laptop
    hardware_address = bench.hardware_address("laptop", LAPTOP_PORT)
    with inside(bench.networks["laptop"]):
        lease = take_lease(LAPTOP_PORT, hardware_address)
    if lease is None:
        return None
    _put_in_force(stage, lease)
    return lease.address


def _connect_over_ipv6(stage: Stage) -> None:
    """Let the laptop make its address of the router's advertisement.

    Raises PracticeBroken where nobody can advertise, or no address comes of it.
    """
    dnsmasq, plan = _tool(stage.spec, "dnsmasq"), stage.addresses_6
    if dnsmasq is None or plan is None:
        raise PracticeBroken(problem="IPv6 needs dnsmasq to advertise it")
    lifetime_s = stage.router_lifetime_s
    stage.serve(
        advertising_service(
            stage.scratch, dnsmasq, resolver=plan.resolver, router_lifetime_s=lifetime_s
        )
    )
    deadline = time.monotonic() + READY_WITHIN_S
    bench = stage.bench
    while not bench.addresses_6("laptop", LAPTOP_PORT):
        if time.monotonic() > deadline:
            raise PracticeBroken(problem="the home router's advertisement did not arrive")
        time.sleep(LOOK_EVERY_S)
    with (stage.scratch / "resolv.conf").open("a") as file:
        file.write(resolver_file((plan.resolver,)))


def _put_in_force(stage: Stage, lease: Lease) -> None:
    bench = stage.bench
    bench.lease("laptop", LAPTOP_PORT, lease.address, lease.prefix, lease.lease_s)
    if lease.gateway:
        bench.route("laptop", "default", lease.gateway)
    (stage.scratch / "resolv.conf").write_text(resolver_file(lease.dns))
    leases = stage.scratch / "leases" / f"dhclient.{LAPTOP_PORT}.leases"
    leases.write_text(lease_file(lease, LAPTOP_PORT))


def _prepare(stage: Stage) -> None:
    for choice in stage.spec.faults:
        prepare = faults.effect_of(choice).prepare
        if prepare:
            STRIKES[prepare](stage)


def _strike(stage: Stage) -> None:
    for choice in stage.spec.faults:
        strike = faults.effect_of(choice).strike
        if strike:
            STRIKES[strike](stage)
