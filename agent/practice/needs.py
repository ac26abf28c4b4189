"""Which faults need what of the home that they are played in."""

from __future__ import annotations

from collections.abc import Iterable

from agent.errors import UsageError
from agent.practice.fault import Effect, Fault
from agent.practice.homes import HOMES

HOME = "home"
AT_ROUTER = frozenset(
    {
        "carrier_nat",
        "gateway_answers_late",
        "gateway_limits_answers",
        "laptop_traffic",
        "line_loses_long",
        "pppoe_untouched",
        "swapped_drop",
        "tunnel",
    }
)
"""The strikes that act on the home's router, of faults whose segment is another than the home."""


def require_home(home: str, chosen: Iterable[tuple[Fault, Effect]]) -> None:
    """Raise UsageError where a fault cannot be played in a home.

    It cannot where it needs another kind of home, as two faults may, or a router where none is.
    """
    for fault, effect in chosen:
        if effect.home not in (None, home):
            raise UsageError(
                problem=f"The fault {fault.name} needs the home {effect.home}, another one {home}.",
                remedy="Play them one after the other.",
            )
        if not HOMES[home].routers and _needs_router(fault, effect):
            raise UsageError(
                problem=f"The fault {fault.name} needs a router in the home; {home} has none.",
                remedy="Choose another home, or a fault of the laptop, the modem or beyond.",
            )


def _needs_router(fault: Fault, effect: Effect) -> bool:
    return fault.segment == HOME or not AT_ROUTER.isdisjoint({effect.prepare, effect.strike})
