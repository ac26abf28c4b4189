"""Lays the practice network out: hosts, cables, addresses, routes, rates.

laptop ── router ── modem (bridge) ══ relay ══ edge ── core … ── server
                                                            └── outside

At the modem there is no router, and the laptop stands in its place.
"""

from __future__ import annotations

import os

from agent.codec.translation import WELL_KNOWN
from agent.practice.addresses import (
    LAN_BITS,
    LINK_BITS_6,
    POINT_BITS,
    WAN_BITS,
    Addresses,
    TranslatorAddresses,
    plan_addresses_6,
)
from agent.practice.bench import Bench
from agent.practice.homes import HOMES
from agent.practice.line import LineSpec

LAPTOP_PORT = "eth0"
TRANSLATOR = "translator"
OUTER_ROUTER = "outer"
"""The home's router at the modem, where another one stands behind it."""

MODEM_BRIDGE = "bridge"
RELAY_PORTS = ("home-side", "net-side")
STREET = "street"
"""Where the operator's other customers are, behind the same edge."""

STRETCH_PORTS = ("near", "far")
SERVER_BITS = 26
FRAME = 1514
"""Octets of a full frame without its check sequence, as a queueing discipline counts it."""

SHORTEST_BURST = 3 * FRAME
BURST_S = 0.002
"""A late timer of up to this long costs the line no rate."""

SHORTEST_QUEUE = 30 * FRAME


def core_names(hops: int) -> tuple[str, ...]:
    """Return the names of the core hosts from the edge outwards."""
    return tuple(f"core{hop}" if hop else "core" for hop in range(hops))


def lay_out(bench: Bench, spec: LineSpec, addresses: Addresses) -> None:
    """Build everything up to the laptop's own address."""
    cores = core_names(spec.hops)
    inside = ("laptop", *home_routers(spec), "modem")
    street = (STREET,) if spec.beyond.busy else ()
    further = (*stretches(spec).values(), *street)
    for name in (*inside, "line", "edge", *cores, "server", "outside", *further):
        bench.add_host(name)
        _settle(bench, name, spec)
    _lay_home(bench, addresses, home_routers(spec))
    _lay_line(bench, spec)
    _lay_network(bench, addresses, cores, spec)
    _lay_ends(bench, addresses, cores[-1], outside_core(spec))
    if spec.ipv6:
        _lay_ipv6(bench, spec, cores)
    if HOMES[spec.home].translation:
        _lay_translator(bench, spec)


ROUTES_NOTHING = ("laptop", "modem", "line", "server", "outside", TRANSLATOR, STREET)


def stretches(spec: LineSpec) -> dict[int, str]:
    """Return the links of the core that a relay carries: the router each ends at, and its host."""
    carried = {0: bool(spec.beyond.core_loss), 1: bool(spec.beyond.detour_ms)}
    return {place: f"stretch{place}" for place, relayed in carried.items() if relayed}


def outside_core(spec: LineSpec) -> str:
    """Return the core host that leads outside: a way round to the server begins past it."""
    return core_names(spec.hops)[0 if spec.beyond.detour_ms else -1]


def _settle(bench: Bench, host: str, spec: LineSpec) -> None:
    highest_group = 1000 if os.geteuid() else 2147483647
    settings = {
        "net.ipv4.icmp_ratelimit": 0,
        "net.ipv4.icmp_msgs_per_sec": 1_000_000,
        "net.ipv4.icmp_msgs_burst": 1_000_000,
        "net.ipv4.ping_group_range": f"{highest_group if os.geteuid() else 0} {highest_group}",
        "net.ipv4.ip_unprivileged_port_start": 0,
        "net.ipv4.ip_forward": int(host not in ROUTES_NOTHING),
        "net.ipv4.conf.all.send_redirects": 0,
        **_ipv6_settings(host, spec),
    }
    for name, value in settings.items():
        bench.switch(host, name, value)
    if spec.congestion:
        bench.switch(host, "net.ipv4.tcp_congestion_control", spec.congestion)


def _ipv6_settings(host: str, spec: LineSpec) -> dict[str, int]:
    """Return the switches of IPv6; addresses are taken without asking who else has them."""
    speaks = spec.ipv6 and host not in ("modem", "line", STREET, *stretches(spec).values())
    settings = {
        f"net.ipv6.conf.{whose}.{name}": value
        for whose in ("all", "default")
        for name, value in (
            ("disable_ipv6", int(not speaks)),
            ("accept_dad", 0),
            ("accept_ra", int(host == "laptop")),
            ("forwarding", int(host not in ROUTES_NOTHING)),
        )
    }
    return (
        {**settings, "net.ipv6.icmp.ratelimit": 0}
        if spec.ipv6
        else {name: value for name, value in settings.items() if name.endswith("disable_ipv6")}
    )


def _lay_ipv6(bench: Bench, spec: LineSpec, cores: tuple[str, ...]) -> None:
    plan = plan_addresses_6(spec.seed, spec.hops)
    chain, last = ("edge", *cores), cores[-1]
    ports = [
        ("router", "lan", plan.router),
        ("router", "wan", plan.wan),
        ("edge", "line", plan.edge),
        (last, "server", plan.server_gateway),
        ("server", "eth0", plan.server),
        (outside_core(spec), "outside", plan.outside_gateway),
        ("outside", "eth0", plan.outside),
        ("outside", "eth0", plan.resolver),
        *(("outside", "eth0", site) for site in plan.sites),
    ]
    for nearer, further, pair in zip(chain, cores, plan.core, strict=False):
        ports += [(nearer, "out", pair[0]), (further, "in", pair[1])]
    for host, port, address in ports:
        bench.address(host, port, address, LINK_BITS_6)
    for nearer, further, pair in zip(chain, cores, plan.core, strict=False):
        bench.route(nearer, "default", pair[1])
        for homewards in (plan.lan, f"{plan.wan}/{LINK_BITS_6}"):
            bench.route(further, homewards, pair[0])
    bench.route("router", "default", plan.edge)
    bench.route("edge", plan.lan, plan.wan)
    bench.route("server", "default", plan.server_gateway)
    bench.route("outside", "default", plan.outside_gateway)


def _lay_translator(bench: Bench, spec: LineSpec) -> None:
    """Lay the translator beside the edge; its system forwards nothing, its program does."""
    plan, own = plan_addresses_6(spec.seed, spec.hops), TranslatorAddresses()
    bench.add_host(TRANSLATOR)
    _settle(bench, TRANSLATOR, spec)
    bench.cable("edge", TRANSLATOR, TRANSLATOR, "eth0")
    bench.offloads_off("edge", TRANSLATOR)
    bench.address("edge", TRANSLATOR, plan.translator_gateway, LINK_BITS_6)
    bench.address("edge", TRANSLATOR, own.gateway, POINT_BITS)
    bench.address(TRANSLATOR, "eth0", plan.translator, LINK_BITS_6)
    bench.address(TRANSLATOR, "eth0", own.own, POINT_BITS)
    bench.route("edge", str(WELL_KNOWN), plan.translator)
    bench.route("edge", own.pool_prefix, own.own)


def home_routers(spec: LineSpec) -> tuple[str, ...]:
    """Return the routers of the home from the laptop outwards."""
    return ("router", OUTER_ROUTER)[: HOMES[spec.home].routers]


def giver_of_addresses(spec: LineSpec) -> tuple[str, str]:
    """Return the host that gives the laptop its address, and the port it does so on."""
    return ("router", "lan") if home_routers(spec) else ("edge", "line")


def _lay_home(bench: Bench, addresses: Addresses, routers: tuple[str, ...]) -> None:
    near = ("router", "lan") if routers else ("modem", "home")
    bench.cable("laptop", LAPTOP_PORT, *near)
    bench.set_hardware_address("laptop", LAPTOP_PORT, addresses.laptop_hardware)
    if not routers:
        return
    bench.address("router", "lan", addresses.router, LAN_BITS)
    last = routers[-1]
    bench.cable(last, "wan", "modem", "home")
    bench.address(last, "wan", addresses.wan, WAN_BITS)
    bench.address(last, "wan", addresses.modem_neighbour, POINT_BITS)
    bench.route(last, "default", addresses.edge)
    if last == OUTER_ROUTER:
        outer, inner = addresses.between_routers
        bench.cable("router", "wan", OUTER_ROUTER, "lan")
        bench.address(OUTER_ROUTER, "lan", outer, LAN_BITS)
        bench.address("router", "wan", inner, LAN_BITS)
        bench.route("router", "default", outer)
        bench.route(OUTER_ROUTER, addresses.lan, inner)


def _lay_line(bench: Bench, spec: LineSpec) -> None:
    bench.cable("modem", "line", "line", RELAY_PORTS[0])
    bench.cable("edge", "line", "line", RELAY_PORTS[1])
    bench.bridge("modem", MODEM_BRIDGE, ("home", "line"))
    if spec.frame_by_frame:
        for host in ("modem", "edge"):
            bench.offloads_off(host, "line")
    _shape(bench, "modem", spec.shaped_up_bps, spec.queue_ms)
    _shape(bench, "edge", spec.shaped_down_bps, spec.queue_ms)


def _shape(bench: Bench, host: str, rate_bps: int, queue_ms: float) -> None:
    bench.shape(host, "line", rate_bps, *port_queue(rate_bps, queue_ms))


def port_queue(rate_bps: int, queue_ms: float) -> tuple[int, int]:
    """Return what a shaped port sends at once and what it holds back at most, in octets."""
    burst = max(SHORTEST_BURST, int(rate_bps / 8 * BURST_S))
    return burst, max(SHORTEST_QUEUE, int(rate_bps / 8 * queue_ms / 1000))


def _lay_network(
    bench: Bench, addresses: Addresses, cores: tuple[str, ...], spec: LineSpec
) -> None:
    bench.address("modem", MODEM_BRIDGE, addresses.modem, POINT_BITS)
    bench.address("edge", "line", addresses.edge, WAN_BITS)
    chain = ("edge", *cores)
    if spec.beyond.busy:
        bench.cable("edge", STREET, STREET, "eth0")
    relayed = stretches(spec)
    for place, (nearer, further, pair) in enumerate(
        zip(chain, cores, addresses.core, strict=False)
    ):
        _link(bench, nearer, further, relayed.get(place))
        if place == 0 and spec.beyond.core_loss:
            bench.offloads_off(nearer, "out")
            bench.offloads_off(further, "in")
        bench.address(nearer, "out", pair[0], POINT_BITS)
        bench.address(further, "in", pair[1], POINT_BITS)
        bench.route(nearer, "default", pair[1])
        bench.route(further, addresses.wan_prefix, pair[0])


def _link(bench: Bench, nearer: str, further: str, relay: str | None) -> None:
    if relay is None:
        bench.cable(nearer, "out", further, "in")
        return
    bench.cable(nearer, "out", relay, STRETCH_PORTS[0])
    bench.cable(further, "in", relay, STRETCH_PORTS[1])


def _lay_ends(bench: Bench, addresses: Addresses, core: str, outside_at: str) -> None:
    bench.cable(core, "server", "server", "eth0")
    bench.address(core, "server", addresses.server_gateway, SERVER_BITS)
    bench.address("server", "eth0", addresses.server, SERVER_BITS)
    bench.route("server", "default", addresses.server_gateway)
    bench.cable(outside_at, "outside", "outside", "eth0")
    bench.address(outside_at, "outside", addresses.outside_gateway, 24)
    bench.address("outside", "eth0", addresses.outside, 24)
    for site in addresses.sites:
        bench.address("outside", "eth0", site.address, 24)
    bench.address("outside", "lo", addresses.resolver, 32)
    bench.route(outside_at, f"{addresses.resolver}/32", addresses.outside)
    bench.route("outside", "default", addresses.outside_gateway)
