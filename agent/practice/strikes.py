"""Faults that act on the built network, before or after the laptop has its lease."""

from __future__ import annotations

from collections.abc import Callable

from agent.practice import (
    strikes_address,
    strikes_advertised,
    strikes_families,
    strikes_home,
    strikes_laptop,
    strikes_line,
    strikes_modem,
    strikes_more,
    strikes_more_home,
    strikes_more_names,
    strikes_naming,
    strikes_offers,
    strikes_reach,
    strikes_web,
)
from agent.practice.stage import Stage

STRIKES: dict[str, Callable[[Stage], None]] = {
    strike.__name__: strike
    for strike in (
        *strikes_address.STRIKES,
        *strikes_advertised.STRIKES,
        *strikes_families.STRIKES,
        *strikes_home.STRIKES,
        *strikes_laptop.STRIKES,
        *strikes_line.STRIKES,
        *strikes_modem.STRIKES,
        *strikes_more.STRIKES,
        *strikes_more_home.STRIKES,
        *strikes_more_names.STRIKES,
        *strikes_naming.STRIKES,
        *strikes_offers.STRIKES,
        *strikes_reach.STRIKES,
        *strikes_web.STRIKES,
    )
}
