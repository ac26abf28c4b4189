"""English sentences about translated addresses, and their next steps."""

from __future__ import annotations

FINDING: dict[str, str] = {
    "second-router": (
        "{routers} routers stand one behind the other in this home and both translate; nothing on "
        "this line suffers from it."
    ),
    "shared-address": (
        "The operator gave an address that customers share ({address}): no fault, but nothing"
        " can be reached from outside by it."
    ),
    "carrier-translation": (
        "The operator seems to translate addresses too (first hop {hop}, seen as "
        "{seen_address}): no fault, but nothing gets in from outside."
    ),
}

STEP: dict[str, tuple[str, str]] = {
    "let-one-router-bridge": (
        (
            "If games, calls or a device that is reached from outside give trouble, let one of the "
            "two routers only bridge; else leave both as they are."
        ),
        "Change nothing of the customer's without a yes.",
    ),
    "ask-for-own-address": (
        (
            "Where something in this home must be reached from outside, ask the operator for an "
            "address of its own, or use IPv6."
        ),
        "",
    ),
}
