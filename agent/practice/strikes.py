"""Faults that act on the built network, before or after the laptop has its lease."""

from __future__ import annotations

from collections.abc import Callable

from agent.practice import (
    strikes_address,
    strikes_advertised,
    strikes_families,
    strikes_home,
    strikes_laptop,
    strikes_naming,
    strikes_offers,
    strikes_reach,
    strikes_web,
)
from agent.practice.stage import Stage


def modem_dead(stage: Stage) -> None:
    """Let the bridge pass nothing and the management address be silent; ports stay up."""
    stage.bench.down("modem", "bridge")


def gateway_dead(stage: Stage) -> None:
    """Let the home router answer nothing and forward nothing; its ports stay up."""
    stage.stop("dhcp")
    stage.bench.forget_addresses("router", "lan")
    stage.bench.switch("router", "net.ipv4.ip_forward", 0)


_LINE = (modem_dead, gateway_dead)

STRIKES: dict[str, Callable[[Stage], None]] = {
    strike.__name__: strike
    for strike in (
        *_LINE,
        *strikes_address.STRIKES,
        *strikes_advertised.STRIKES,
        *strikes_families.STRIKES,
        *strikes_home.STRIKES,
        *strikes_laptop.STRIKES,
        *strikes_naming.STRIKES,
        *strikes_offers.STRIKES,
        *strikes_reach.STRIKES,
        *strikes_web.STRIKES,
    )
}
