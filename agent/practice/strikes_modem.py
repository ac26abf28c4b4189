"""What the faults at the modem do to the built network."""

from __future__ import annotations

from functools import partial

from agent.errors import PracticeBroken
from agent.practice.filtering import strike_table
from agent.practice.handing_out import Giver, serve_answers, usual_options
from agent.practice.modem import HOME_PORT
from agent.practice.services import LEASE_S, Service, dhcp_command, find
from agent.practice.stage import Stage
from agent.practice.strikes_offers import OTHER_DEVICE
from agent.practice.topology import MODEM_BRIDGE, giver_of_addresses


def modem_bound(stage: Stage) -> None:
    """Let the modem take frames of the device before this laptop alone, until it restarts."""
    others = f'iifname "{HOME_PORT}" ether saddr != {OTHER_DEVICE} drop'
    _strike_frames(stage, "prerouting", others)


def line_dark(stage: Stage) -> None:
    """Let nothing pass between the modem's two sides; the modem itself goes on."""
    _strike_frames(stage, "forward", "drop")


def modem_gives_its_own(stage: Stage) -> None:
    """Let the modem of a dark line give an address of its own network, and itself as the way out.

    So modems do that have not registered yet (common practice, no source).
    """
    line_dark(stage)
    modem = stage.addresses.modem
    giver = Giver(
        server_id=modem,
        address=stage.addresses.modem_neighbour,
        options=usual_options(modem, modem),
    )
    run = partial(serve_answers, MODEM_BRIDGE, giver.answer)
    stage.serve(Service(name="modem-dhcp", host="modem", run=run))


def edge_pool_empty(stage: Stage) -> None:
    """Let every address that the edge has for customers belong to another device for ever."""
    addresses, dnsmasq = stage.addresses, find("dnsmasq")
    if dnsmasq is None:
        raise PracticeBroken(problem="this fault needs dnsmasq to hand out addresses")
    host, port = giver_of_addresses(stage.spec)
    leases = stage.scratch / "edge.leases"
    leases.write_text(f"0 {OTHER_DEVICE} {addresses.pool_first} * *\n")
    run = dhcp_command(
        stage.scratch,
        dnsmasq,
        name="edge",
        port=port,
        pool=(addresses.pool_first, addresses.pool_first, LEASE_S),
        options=(f"3,{addresses.router}", f"6,{addresses.resolver}"),
    )
    stage.stop("dhcp")
    stage.serve(Service(name="dhcp", host=host, run=run))


def _strike_frames(stage: Stage, hook: str, rule: str) -> None:
    """Give the modem one rule for the frames at a hook of its bridge (nft(8))."""
    chain = f"chain {hook} {{ type filter hook {hook} priority filter; {rule}; }}"
    strike_table(stage, "modem", f"table bridge struck {{\n{chain}\n}}\n")


STRIKES = (modem_bound, line_dark, modem_gives_its_own, edge_pool_empty)
