"""What the faults of reach do to the built network: filters, and a translator at the edge."""

from __future__ import annotations

from agent.practice.addresses import POINT_BITS, WAN_BITS
from agent.practice.filtering import strike_packets, strike_table
from agent.practice.open_ports import ANSWER_PORT, MAIL_PORT
from agent.practice.stage import Stage
from agent.practice.topology import OUTER_ROUTER, home_routers

SHARED_EDGE, SHARED_HOME = "100.127.0.1", "100.127.0.20"
"""From the shared range (RFC 6598), beyond what the core's links take of it."""

SHARED_PREFIX = "100.127.0.0/24"


def home_drops_port(stage: Stage) -> None:
    """Let the laptop's router pass nothing to the mail port."""
    strike_packets(stage, "router", "forward", f"tcp dport {MAIL_PORT} drop")


def home_refuses_port(stage: Stage) -> None:
    """Let the laptop's router answer for the mail port with a reset."""
    strike_packets(stage, "router", "forward", f"tcp dport {MAIL_PORT} reject with tcp reset")


def outer_drops_port(stage: Stage) -> None:
    """Let the home's outer router pass nothing to the mail port."""
    strike_packets(stage, OUTER_ROUTER, "forward", f"tcp dport {MAIL_PORT} drop")


def edge_drops_port(stage: Stage) -> None:
    """Let the edge pass nothing to the mail port."""
    strike_packets(stage, "edge", "forward", f"tcp dport {MAIL_PORT} drop")


def edge_forbids_udp(stage: Stage) -> None:
    """Let the edge say that the server's answering port is forbidden over UDP."""
    forbid = f"udp dport {ANSWER_PORT} reject with icmpx type admin-prohibited"
    strike_packets(stage, "edge", "forward", forbid)


def far_end_refuses_port(stage: Stage) -> None:
    """Let the outside host answer for its mail port with a reset."""
    strike_packets(stage, "outside", "input", f"tcp dport {MAIL_PORT} reject with tcp reset")


def carrier_nat(stage: Stage) -> None:
    """Give the home an address of the shared range, and translate it at the edge."""
    bench, addresses = stage.bench, stage.addresses
    last = home_routers(stage.spec)[-1]
    bench.forget_addresses(last, "wan")
    bench.address(last, "wan", SHARED_HOME, WAN_BITS)
    bench.address(last, "wan", addresses.modem_neighbour, POINT_BITS)
    bench.route(last, "default", SHARED_EDGE)
    bench.address("edge", "line", SHARED_EDGE, WAN_BITS)
    rule = f'ip saddr {SHARED_PREFIX} oifname "out" snat to {addresses.wan}'
    chain = f"chain out {{ type nat hook postrouting priority srcnat; {rule}; }}"
    strike_table(stage, "edge", f"table ip reach {{\n{chain}\n}}\n")


STRIKES = (
    home_drops_port,
    home_refuses_port,
    outer_drops_port,
    edge_drops_port,
    edge_forbids_udp,
    far_end_refuses_port,
    carrier_nat,
)
