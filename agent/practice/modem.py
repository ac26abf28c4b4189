"""The practice modem as a device of its own: what it does besides bridging."""

from __future__ import annotations

from agent.practice.filtering import load_table
from agent.practice.stage import Stage
from agent.practice.topology import MODEM_BRIDGE

HOME_PORT = "home"


def listen_at_home_port(stage: Stage, nft: str) -> None:
    """Let the modem answer at its own address to whoever is plugged into it.

    A laptop at the modem sends what is for that address to its gateway, which is at the far end of
    the line; a bridging modem keeps such frames for itself (common practice, no source).
    Raises PracticeBroken where the modem takes no rules.
    """
    bench, addresses = stage.bench, stage.addresses
    bench.reach("modem", MODEM_BRIDGE, addresses.wan_prefix)
    own = bench.hardware_address("modem", MODEM_BRIDGE).hex(":")
    kept = f'iifname "{HOME_PORT}" ip daddr {addresses.modem} meta pkttype set host'
    chain = "chain kept { type filter hook prerouting priority -300;"
    table = f"table bridge modem {{\n{chain} {kept} ether daddr set {own}; }}\n}}\n"
    load_table(stage, "modem", table, nft)
