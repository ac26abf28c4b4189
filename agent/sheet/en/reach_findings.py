"""English sentences about ports that do not pass."""

from __future__ import annotations

FINDING: dict[str, str] = {
    "port-blocked": (
        "{name} ({transport} {port}) is {port_fate} on the way; the last router that answered"
        " is {last_hop}."
    ),
    "port-refused": (
        "The server at the far end, beyond the operator, refuses {name} ({transport} {port}) "
        "itself: it does not serve it."
    ),
}

STEP: dict[str, tuple[str, str]] = {
    "allow-port-at-router": (
        (
            "Look in the home router for a filter, parental control or security service that stops "
            "this port; allow it, then run again."
        ),
        "Change nothing of the customer's without a yes.",
    ),
    "report-port-filter": (
        (
            "Ask the operator's network desk whether this product has a filter for this port, with "
            "this sheet. Leave the wiring alone."
        ),
        "Some ports are closed on purpose, against misuse: promise nothing.",
    ),
    "ask-far-end": (
        "Nothing to do on this line: whoever runs that server must open the port.",
        "",
    ),
    "compare-port-elsewhere": (
        (
            "Try the same port with the laptop at the modem. Passes there: the router stops "
            "it; stopped there too: ask the network desk with this sheet."
        ),
        "Ask first: phone and alarm may drop while the router is out.",
    ),
}
