"""What the sheet says of servers that hand out addresses and sessions, in English."""

from __future__ import annotations

FINDING: dict[str, str] = {
    "pool-exhausted": (
        "The device that gives addresses here answers, but has none left to give: its pool is "
        "used up."
    ),
    "lease-refused": (
        "The device that gives addresses here ({server}) refuses the one this laptop asks "
        "for, often kept from another network."
    ),
    "lease-not-taken": (
        "{server} offers {address}, yet this laptop holds no address: the laptop has to take it."
    ),
    "pppoe-silent": (
        "Nothing on the line answers PPPoE discovery ({sent} requests): no sync at the modem,"
        " a VLAN tag missing, or the line down."
    ),
    "pppoe-no-session": (
        "This line gives an address only once a PPPoE session is up, and none is: no line fault "
        "so far."
    ),
    "pppoe-not-started": (
        "The line's far end ({concentrator}) answers PPPoE in {after_ms}: the line is good so"
        " far, only the session at this end is not started."
    ),
    "two-dhcp-servers": (
        "{servers} devices give addresses here; {server} ({hardware_address}) is one too many."
    ),
    "address-in-use": (
        "Another device here ({hardware_address}) has this laptop's address {address} too: both "
        "lose traffic."
    ),
    "offered-address-in-use": (
        "{address} is offered here, but the device {hardware_address} uses it already."
    ),
    "offer-without-router": (
        "The device that gives addresses here names no gateway: devices here reach nothing else."
    ),
    "offer-without-dns": (
        "The device that gives addresses here names no resolver: devices cannot look names up."
    ),
    "mask-misfits-router": (
        "The device that gives addresses here names a gateway outside its own network: it may not "
        "be reached."
    ),
    "lease-time-zero": (
        "The device that gives addresses here gives them for no time at all: they are lost at once."
    ),
    "timers-out-of-order": (
        "Renewal times given here are out of order (T1 {t1_s}, T2 {t2_s}, lease {lease_s}): "
        "devices may lose their address."
    ),
    "lease-server-silent": (
        "The device that gave this laptop its address answers no more: the address will be lost "
        "later."
    ),
    "address-of-another-pool": (
        "{address} is not of this service's pool: the line plugged in may be another customer's."
    ),
    "unexpected-dhcp-server": (
        "{server} gives addresses and is not one of this service's: the line plugged in may be "
        "another's."
    ),
}

STEP: dict[str, tuple[str, str]] = {
    "widen-address-pool": (
        "Restart the router; if that does not help, widen its address range.",
        "Ask first: phone and alarm may drop meanwhile.",
    ),
    "clear-refused-lease": (
        (
            "Pull the laptop's cable and put it back; if it is refused again, restart the device "
            "that gives the addresses."
        ),
        "Ask first: phone and alarm may drop meanwhile.",
    ),
    "ask-for-address-again": (
        "Set the laptop's port to automatic addresses, put its cable in anew, then run again.",
        "",
    ),
    "check-sync-and-tag": (
        (
            "See if the modem has sync. Sync: try the line's VLAN tag, then the network desk."
            " No sync: read levels; bad: line crew; good: swap the modem."
        ),
        (
            "Do not open taps or powered plant. Never look into a fibre or connector. Ask "
            "before a swap: phone and alarm drop."
        ),
    ),
    "start-pppoe-session": (
        "Start the PPPoE session on this laptop or on the router, then run again.",
        "",
    ),
    "find-second-dhcp-server": (
        (
            "Find the second device that gives addresses (often a second router), switch that"
            " service off, run again."
        ),
        "Change nothing of the customer's without a yes.",
    ),
    "find-address-user": (
        (
            "Look in the router's list of devices for the one with this address, set it to "
            "take its address by itself, run again."
        ),
        "Change nothing of the customer's without a yes.",
    ),
    "set-router-option": (
        "Let the device that gives the addresses give its gateway too, then run again.",
        "Change nothing of the customer's without a yes.",
    ),
    "set-dns-option": (
        "Let the device that gives the addresses give a resolver too, then run again.",
        "Change nothing of the customer's without a yes.",
    ),
    "set-mask-option": (
        (
            "Correct the network mask or the gateway in the device that gives the addresses, then "
            "run again."
        ),
        "Change nothing of the customer's without a yes.",
    ),
    "set-lease-times": (
        (
            "Put the lease times of the device that gives the addresses back to its defaults, "
            "then run again."
        ),
        "Change nothing of the customer's without a yes.",
    ),
    "check-drop": (
        "Compare the drop's label with the work order; have the operator check line and profile.",
        "Do not open taps or powered plant. Never look into a fibre or connector.",
    ),
}
