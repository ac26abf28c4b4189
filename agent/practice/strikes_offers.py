"""Faults of what hands out addresses and sessions, as they are played on the built network."""

from __future__ import annotations

from functools import partial
from ipaddress import IPv4Network

from agent.codec.dhcp_options import Options
from agent.errors import PracticeBroken
from agent.practice.addresses import LAN_BITS
from agent.practice.handing_out import (
    Giver,
    ask_for_ever,
    serve_answers,
    serve_concentrator,
    usual_options,
)
from agent.practice.home_switch import GUEST_PORT, put_switch
from agent.practice.oslease import resolver_file
from agent.practice.services import LEASE_S, Service, dhcp_command, find
from agent.practice.stage import Stage
from agent.practice.topology import LAPTOP_PORT

SECOND = "second"
OTHER_DEVICE = "02:00:5e:00:52:fe"
"""Of the group set aside for documentation and made local (RFC 7042 §2.1.2)."""

CONCENTRATOR = "ternbay-ac1"


def second_dhcp(stage: Stage) -> None:
    """Let another router of the home stand on the network with its home side."""
    put_switch(stage, SECOND)


def second_dhcp_speaks(stage: Stage) -> None:
    """Let that router give addresses of its own."""
    home = _another(stage)
    router, first, last = (str(home[place]) for place in (1, 20, 60))
    stage.bench.address(SECOND, GUEST_PORT, router, LAN_BITS)
    run = dhcp_command(
        stage.scratch,
        _dnsmasq(),
        name="second",
        port=GUEST_PORT,
        pool=(first, last, LEASE_S),
        options=(f"3,{router}", f"6,{router}"),
    )
    stage.serve(Service(name="second-dhcp", host=SECOND, run=run))


def pool_exhausted(stage: Stage) -> None:
    """Let every address of the router's pool belong to another device for ever."""
    addresses = stage.addresses
    leases = stage.scratch / "home.leases"
    leases.write_text(f"0 {OTHER_DEVICE} {addresses.pool_first} * *\n")
    _serve_home(stage, pool=(addresses.pool_first, addresses.pool_first, LEASE_S))


def dhcp_refuses(stage: Stage) -> None:
    """Let the router offer an address and refuse whoever asks for it."""
    _give(stage, usual_options(stage.addresses.router, stage.addresses.resolver), refuses=True)


def laptop_keeps_asking(stage: Stage) -> None:
    """Let the laptop's system ask for an address again and again, as systems do."""
    hardware_address = stage.bench.hardware_address("laptop", LAPTOP_PORT)
    run = ask_for_ever(LAPTOP_PORT, hardware_address)
    stage.serve(Service(name="laptop-dhcp", host="laptop", run=run))


def no_router_option(stage: Stage) -> None:
    """Let the router leave itself out of what it gives."""
    _serve_home(stage, options=("3", f"6,{stage.addresses.resolver}"))


def no_dns_option(stage: Stage) -> None:
    """Let the router give no resolver."""
    _serve_home(stage, options=(f"3,{stage.addresses.router}", "6"))


def timers_reversed(stage: Stage) -> None:
    """Let the router give T1 and T2 the wrong way round; dnsmasq would put them right."""
    router, resolver = stage.addresses.router, stage.addresses.resolver
    _give(stage, usual_options(router, resolver, t1_s=LEASE_S * 7 // 8, t2_s=LEASE_S // 2))


def device_beside(stage: Stage) -> None:
    """Put a device beside the laptop that has no address yet."""
    put_switch(stage, SECOND)


def address_in_use(stage: Stage) -> None:
    """Give that device, by hand, the address that the laptop was given."""
    for address in stage.bench.addresses_4("laptop", LAPTOP_PORT):
        stage.bench.address(SECOND, GUEST_PORT, address, LAN_BITS)


def swapped_drop(stage: Stage) -> None:
    """Let everything work, from the address pool of another service."""
    home = _another(stage)
    router, first, last = (str(home[place]) for place in (1, 20, 60))
    stage.stop("dhcp")
    stage.bench.forget_addresses("router", "lan")
    stage.bench.address("router", "lan", router, LAN_BITS)
    _serve_home(
        stage, pool=(first, last, LEASE_S), options=(f"3,{router}", f"6,{stage.addresses.resolver}")
    )


def pppoe_untouched(stage: Stage) -> None:
    """Let a concentrator stand ready, and no session be up."""
    no_session(stage)
    hardware_address = stage.bench.hardware_address("router", "lan")
    run = partial(serve_concentrator, "lan", hardware_address, CONCENTRATOR)
    stage.serve(Service(name="concentrator", host="router", run=run))


def no_session(stage: Stage) -> None:
    """Take from the laptop what a session would have given."""
    stage.bench.forget_addresses("laptop", LAPTOP_PORT)
    (stage.scratch / "resolv.conf").write_text(resolver_file(()))


def _give(stage: Stage, options: Options, *, refuses: bool = False) -> None:
    """Serve the laptop's one address from the home router in place of what did so before."""
    stage.stop("dhcp")
    giver = Giver(
        server_id=stage.addresses.router,
        address=stage.addresses.laptop,
        options=options,
        refuses=refuses,
    )
    run = partial(serve_answers, "lan", giver.answer)
    stage.serve(Service(name="dhcp", host="router", run=run))


def _serve_home(
    stage: Stage,
    *,
    pool: tuple[str, str, int] | None = None,
    options: tuple[str, ...] | None = None,
) -> None:
    """Serve addresses from the home router in place of what did so before."""
    addresses = stage.addresses
    stage.stop("dhcp")
    run = dhcp_command(
        stage.scratch,
        _dnsmasq(),
        name="home",
        port="lan",
        pool=pool or (addresses.pool_first, addresses.pool_last, LEASE_S),
        options=_usual(stage) if options is None else options,
    )
    stage.serve(Service(name="dhcp", host="router", run=run))


def _usual(stage: Stage) -> tuple[str, ...]:
    return (f"3,{stage.addresses.router}", f"6,{stage.addresses.resolver}")


def _another(stage: Stage) -> IPv4Network:
    """Return a network beside the home's, of the same range."""
    home = IPv4Network(stage.addresses.lan)
    octets = home.network_address.packed
    return IPv4Network((bytes((*octets[:2], octets[2] ^ 1, 0)), LAN_BITS))


def _dnsmasq() -> str:
    found = find("dnsmasq")
    if found is None:
        raise PracticeBroken(problem="this fault needs dnsmasq to hand out addresses")
    return found


STRIKES = (
    second_dhcp,
    second_dhcp_speaks,
    pool_exhausted,
    dhcp_refuses,
    laptop_keeps_asking,
    no_router_option,
    no_dns_option,
    timers_reversed,
    device_beside,
    address_in_use,
    swapped_drop,
    pppoe_untouched,
    no_session,
)
