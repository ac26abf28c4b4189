"""What the sheet says of routers and servers that give IPv6, in English."""

from __future__ import annotations

FINDING: dict[str, str] = {
    "two-ipv6-routers": (
        "{routers} devices here say they are the way out over IPv6; {hardware_address} is one too "
        "many."
    ),
    "ipv6-prefix-expired": (
        "The router gives an IPv6 prefix that has run out ({prefix}): IPv6 fails for the devices "
        "here."
    ),
    "ipv6-lifetimes-reversed": (
        "The router's IPv6 times are the wrong way round: {prefix} is preferred for "
        "{preferred_s}, but valid for {valid_s}."
    ),
    "no-ipv6-router": (
        "The router gives IPv6 addresses and says that it is no way out for them: over IPv6 "
        "nothing gets past the router."
    ),
    "managed-without-server": (
        "The router leaves IPv6 addresses to a DHCPv6 server, and none here gave one."
    ),
    "ipv6-server-without-address": (
        "The DHCPv6 server in router or modem answers, but has no address to give."
    ),
    "no-delegated-prefix": (
        "The operator's line gives no IPv6 prefix for the home, or one too small; "
        "/{expected_bits} is due."
    ),
    "ipv6-without-resolver": (
        "IPv6 is all there is here, and the router names no resolver for it: no name can be "
        "looked up."
    ),
    "portals-differ": (
        "DHCP and router in this home name different login pages: {page} and {other_page}."
    ),
}

STEP: dict[str, tuple[str, str]] = {
    "find-second-router": (
        (
            "Find the second device that offers IPv6, make it an access point or switch that "
            "service off; then run again."
        ),
        "Change nothing of the customer's without a yes.",
    ),
    "renew-ipv6-prefix": (
        "Restart the router so that it asks for a fresh prefix, then run again.",
        "Ask first: phone and alarm may drop meanwhile.",
    ),
    "set-advertised-times": (
        (
            "Put the IPv6 lifetimes in the router's settings back to their defaults (no full "
            "reset), then run again."
        ),
        "Change nothing of the customer's without a yes.",
    ),
    "start-ipv6-server": (
        (
            "In the router or modem switch its DHCPv6 server on, or let devices make their "
            "own addresses; either will do; run again."
        ),
        "Change nothing of the customer's without a yes.",
    ),
    "report-delegation": (
        (
            "Refer to the operator's network desk with this sheet: the line should delegate a "
            "prefix to the home."
        ),
        "",
    ),
    "set-ipv6-resolver": (
        "Let the router name a resolver over IPv6 too, then run again.",
        "Change nothing of the customer's without a yes.",
    ),
    "name-one-portal": (
        (
            "Find which login page is this service's, have DHCP and router both name that "
            "one, then run again."
        ),
        "Change nothing of the customer's without a yes.",
    ),
}
