"""English sentences of the findings about IPv6, and their next steps."""

from __future__ import annotations

FINDING = {
    "ipv4-missing": (
        "Only IPv6 was given, and nothing translates: sites that have IPv4 alone are out of reach."
    ),
    "ipv6-no-route": (
        "The laptop holds an IPv6 address without a way out: nothing over IPv6 leaves the home."
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
        "connection loses {racing_ms}."
    ),
    "ipv6-site-unanswered": (
        "One outside page does not answer at its IPv6 address ({target}); IPv6 itself works."
    ),
}

STEP = {
    "mend-ipv6-router": (
        (
            "Renew the router's IPv6 (restart it), then run again; if it stays so, report that the "
            "line gives it no IPv6."
        ),
        "Ask first: phone and alarm may drop meanwhile. Change nothing else without a yes.",
    ),
    "report-ipv6": (
        (
            "Report the broken IPv6 to the operator's network desk with this sheet. The line "
            "itself works over IPv4: leave the wiring alone."
        ),
        "Do not switch IPv6 off on the customer's devices: it hides the fault.",
    ),
}
