"""What further faults of home and laptop do to the built network, and what is odd and no fault."""

from __future__ import annotations

from functools import partial

from agent.errors import PracticeBroken
from agent.practice.addresses import LAN_BITS, POINT_BITS
from agent.practice.cabling import carry_at
from agent.practice.faults import played_figures
from agent.practice.filtering import strike_packets, strike_table
from agent.practice.household import PORT, Traffic, serve_traffic
from agent.practice.household_turns import Turns
from agent.practice.kernel import inside
from agent.practice.late_answers import answer_late
from agent.practice.modem import HOME_PORT
from agent.practice.open_ports import ANSWER_PORT
from agent.practice.oslease import resolver_file
from agent.practice.services import Service, dhcp_command, find, mute
from agent.practice.stage import Stage
from agent.practice.strikes_home import DEVICE
from agent.practice.strikes_laptop import DISCARD, send_on
from agent.practice.strikes_more import LONG_OCTETS, chain, chance
from agent.practice.topology import LAPTOP_PORT, OUTER_ROUTER, giver_of_addresses
from agent.units import MS_PER_S

NOBODY = 251
"""Above every pool, and no device's: see `agent.practice.strikes_home`."""

BACK = "back"
BACK_FAR, BACK_FAR_END = "100.127.1.1", "100.127.1.2"
BACK_NEAR, BACK_NEAR_END = "100.127.1.5", "100.127.1.6"
"""From the shared range (RFC 6598), beyond what the core's links take of it."""

AT_ONCE = 5


def cable_loses_long(stage: Stage) -> None:
    """Let the cable between laptop and router lose a share of the long packets each way."""
    share = played_figures(stage.spec)["home_long_loss"]
    for host, port in (("laptop", LAPTOP_PORT), ("router", "lan"), ("modem", HOME_PORT)):
        stage.bench.offloads_off(host, port)
    lost = f"meta length > {LONG_OCTETS} {chance(share)} drop"
    chains = chain("prerouting", f'iifname "lan" {lost}')
    chains += chain("postrouting", f'oifname "lan" {lost}')
    strike_table(stage, "router", f"table inet worn {{\n{chains}}}\n")


def router_limits_up(stage: Stage) -> None:
    """Let the router at the laptop send no more than a share of the tier's upload."""
    share = played_figures(stage.spec)["router_up_share"]
    carry_at(stage, "router", "wan", round(stage.spec.up_bps * share))


def router_limits_down(stage: Stage) -> None:
    """Let the router at the laptop hand on no more than a share of the tier's download."""
    share = played_figures(stage.spec)["router_down_share"]
    carry_at(stage, "router", "lan", round(stage.spec.down_bps * share))


def outer_router_limits(stage: Stage) -> None:
    """Let the home's outer router carry no more than a share of the tier."""
    share = played_figures(stage.spec)["outer_router_share"]
    carry_at(stage, OUTER_ROUTER, "lan", round(stage.spec.down_bps * share))
    carry_at(stage, OUTER_ROUTER, "wan", round(stage.spec.up_bps * share))


def turns_down(stage: Stage) -> None:
    """Let the device fetch piece after piece."""
    _take_turns(stage, down=True)


def turns_up(stage: Stage) -> None:
    """Let the device send piece after piece."""
    _take_turns(stage, down=False)


def _take_turns(stage: Stage, *, down: bool) -> None:
    figures, outside = played_figures(stage.spec), stage.addresses.outside
    turns = Turns(
        outside=outside,
        down=down,
        octets=round(figures["turn_octets"]),
        pause_s=figures["turn_pause_s"],
        flows=round(figures["household_flows"]),
        seed=stage.spec.seed,
    )
    _serve_films(stage)
    stage.serve(Service(name=DEVICE, host=DEVICE, run=turns.run))


def _serve_films(stage: Stage) -> None:
    outside = stage.addresses.outside
    serve = partial(serve_traffic, outside)
    stage.serve(Service(name="films", host="outside", run=serve, listens=(outside, PORT)))


def camera(stage: Stage) -> None:
    """Let the device send an even stream of datagrams that gives way to nobody."""
    outside = stage.addresses.outside
    rate_bps = played_figures(stage.spec)["camera_share"] * stage.spec.shaped_up_bps
    with inside(stage.bench.networks["outside"]):
        stage.silent.extend(mute(outside, DISCARD))
    stage.serve(Service(name=DEVICE, host=DEVICE, run=partial(send_on, outside, rate_bps)))


def home_drops_udp(stage: Stage) -> None:
    """Let the laptop's router pass nothing over UDP to the server's answering port."""
    strike_packets(stage, "router", "forward", f"udp dport {ANSWER_PORT} drop")


def home_loses_large_ipv6(stage: Stage) -> None:
    """Let the laptop's router forward nothing of IPv6 that is larger."""
    longest = round(played_figures(stage.spec)["ipv6_mtu_bytes"])
    rule = f"meta nfproto ipv6 meta length > {longest} drop"
    strike_packets(stage, "router", "forward", rule)


def small_windows(stage: Stage) -> None:
    """Let the laptop's system keep next to nothing for a connection, each way."""
    octets = round(played_figures(stage.spec)["window_octets"])
    for name in ("tcp_rmem", "tcp_wmem"):
        stage.bench.switch("laptop", f"net.ipv4.{name}", f"4096 {octets} {octets}")


def laptop_downloads(stage: Stage) -> None:
    """Let another program of the laptop fetch a share of the line all the while."""
    share, outside = played_figures(stage.spec)["laptop_download_share"], stage.addresses.outside
    traffic = Traffic(
        outside=outside,
        down=True,
        rate_bps=share * stage.spec.shaped_down_bps,
        flows=4,
        seed=stage.spec.seed,
    )
    _serve_films(stage)
    stage.serve(Service(name="downloads", host="laptop", run=traffic.run))


def wrong_resolver_typed(stage: Stage) -> None:
    """Let the laptop ask a resolver that does not exist."""
    (stage.scratch / "resolv.conf").write_text(resolver_file((_nobody(stage),)))


def wrong_gateway_typed(stage: Stage) -> None:
    """Let the laptop send everything to an address of the home that nobody has."""
    bench = stage.bench
    bench.forget_addresses("laptop", LAPTOP_PORT)
    bench.address("laptop", LAPTOP_PORT, stage.addresses.laptop, LAN_BITS)
    bench.route("laptop", "default", _nobody(stage))


def _nobody(stage: Stage) -> str:
    return f"{stage.addresses.lan.rpartition('.')[0]}.{NOBODY}"


def gateway_answers_late(stage: Stage) -> None:
    """Let the laptop's router answer echo late, and forward at once."""
    _answer_late(stage, "router")


def edge_answers_late(stage: Stage) -> None:
    """Let the edge answer echo late, and forward at once."""
    _answer_late(stage, "edge")


def _answer_late(stage: Stage, host: str) -> None:
    delay_s = played_figures(stage.spec)["answers_late_ms"] / MS_PER_S
    stage.bench.switch(host, "net.ipv4.icmp_echo_ignore_all", 1)
    run = partial(answer_late, delay_s)
    stage.serve(Service(name="late-answers", host=host, run=run))


def gateway_limits_answers(stage: Stage) -> None:
    """Let the laptop's router answer only so many echoes a second."""
    per_s = round(played_figures(stage.spec)["gateway_answers_per_s"])
    limit = f"limit rate over {per_s}/second burst {AT_ONCE} packets drop"
    strike_packets(stage, "router", "output", f"icmp type echo-reply {limit}")


def edge_loses_answers(stage: Stage) -> None:
    """Let the edge leave a share of the echoes to itself unanswered, and forward all."""
    share = played_figures(stage.spec)["edge_unanswered"]
    strike_packets(stage, "edge", "output", f"icmp type echo-reply {chance(share)} drop")


def other_way_back(stage: Stage) -> None:
    """Let what comes home pass another router than what leaves, on a way of the same length."""
    bench, addresses = stage.bench, stage.addresses
    bench.add_host(BACK)
    for name, value in (
        ("net.ipv4.icmp_ratelimit", 0),
        ("net.ipv4.ip_forward", 1),
        ("net.ipv6.conf.all.disable_ipv6", 1),
    ):
        bench.switch(BACK, name, value)
    bench.cable("core1", BACK, BACK, "far")
    bench.cable(BACK, "near", "edge", BACK)
    for host, port, address in (
        ("core1", BACK, BACK_FAR),
        (BACK, "far", BACK_FAR_END),
        (BACK, "near", BACK_NEAR_END),
        ("edge", BACK, BACK_NEAR),
    ):
        bench.address(host, port, address, POINT_BITS)
    bench.route("core1", f"{addresses.wan}/32", BACK_FAR_END)
    bench.route(BACK, addresses.wan_prefix, BACK_NEAR)


def short_lease(stage: Stage) -> None:
    """Let the router give addresses for a short time. Raises PracticeBroken."""
    addresses, dnsmasq = stage.addresses, find("dnsmasq")
    if dnsmasq is None:
        raise PracticeBroken(problem="this line needs dnsmasq to hand out addresses")
    host, port = giver_of_addresses(stage.spec)
    lease_s = round(played_figures(stage.spec)["lease_s"])
    run = dhcp_command(
        stage.scratch,
        dnsmasq,
        name="short",
        port=port,
        pool=(addresses.pool_first, addresses.pool_last, lease_s),
        options=(f"3,{addresses.router}", f"6,{','.join(addresses.resolvers)}"),
    )
    stage.stop("dhcp")
    stage.serve(Service(name="dhcp", host=host, run=run))


STRIKES = (
    cable_loses_long,
    router_limits_up,
    router_limits_down,
    outer_router_limits,
    turns_down,
    turns_up,
    camera,
    home_drops_udp,
    home_loses_large_ipv6,
    small_windows,
    laptop_downloads,
    wrong_resolver_typed,
    wrong_gateway_typed,
    gateway_answers_late,
    edge_answers_late,
    gateway_limits_answers,
    edge_loses_answers,
    other_way_back,
    short_lease,
)
