"""English sentences of the findings about IPv6, and their next steps."""

from __future__ import annotations

FINDING: dict[str, str] = {
    "ipv4-missing": (
        "Router or modem gave only IPv6, and nothing translates: sites that have IPv4 alone "
        "are out of reach."
    ),
    "ipv6-no-route": (
        "The laptop holds an IPv6 address, but the router names no way out for it: nothing "
        "over IPv6 leaves the home."
    ),
    "ipv6-dead": (
        "IPv6 is given but does not answer: each new connection loses {racing_ms}, up to "
        "{single_s} in programs that wait for it."
    ),
    "ipv6-large-packets-vanish": (
        "Small packets pass over IPv6, full ones vanish: pages begin to load and hang. IPv4 works."
    ),
    "ipv6-names-silent": (
        "The resolver never answers for IPv6 addresses: each new name loses {racing_ms}, up to "
        "{single_s} in programs that wait."
    ),
    "ipv6-slower": (
        "IPv6 connects more slowly than IPv4 ({connect_6_ms} to {connect_4_ms}): each new "
        "connection loses up to {racing_ms}."
    ),
    "ipv6-site-unanswered": (
        "One outside page does not answer at its IPv6 address ({target}); IPv6 itself works."
    ),
}

STEP: dict[str, tuple[str, str]] = {
    "mend-ipv6-router": (
        (
            "Restart the router, then run again; the same again: report to the operator's "
            "network desk that the line gives it no IPv6."
        ),
        "Ask first: phone and alarm may drop meanwhile. Change nothing else without a yes.",
    ),
    "restart-router-for-ipv4": (
        (
            "Restart the router, run again when it is up; still only IPv6: report to the "
            "operator's network desk that no IPv4 comes."
        ),
        "Ask first: phone and alarm may drop meanwhile.",
    ),
    "report-ipv6": (
        (
            "Report this IPv6 fault to the operator's network desk with this sheet. The line "
            "itself works over IPv4: leave the wiring alone."
        ),
        "Do not switch IPv6 off on the customer's devices: it hides the fault.",
    ),
}
