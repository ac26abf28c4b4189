"""What the sheet says of servers that hand out addresses and sessions, in English."""

from __future__ import annotations

FINDING = {
    "pool-exhausted": "A server answers here, but has no address to give: its pool is used up.",
    "lease-refused": "The server {server} refuses the address that this laptop asks for.",
    "lease-not-taken": "The server {server} offers {address}, yet this laptop holds no address.",
    "pppoe-silent": "Nobody answers PPPoE discovery here: {sent} requests, no concentrator.",
    "pppoe-no-session": "A PPPoE line gives no address before a session is up; no offer is normal.",
    "pppoe-not-started": "{concentrator} answers PPPoE discovery in {after_ms}; no session is up.",
    "two-dhcp-servers": "{servers} servers offer addresses here; {server} is one too many.",
    "address-in-use": "Another device has this laptop's address {address} too: {hardware_address}.",
    "offered-address-in-use": "{address} is offered, but {hardware_address} uses it already.",
    "offer-without-router": "The address comes without a gateway: devices here reach nothing else.",
    "offer-without-dns": "The address comes without a resolver: devices here cannot look names up.",
    "mask-misfits-router": "The gateway that is given lies outside the network that is given.",
    "lease-time-zero": "The address is given for no time at all.",
    "timers-out-of-order": (
        "Renewal times are out of order: T1 {t1_s}, T2 {t2_s}, lease {lease_s}. Links may drop."
    ),
    "lease-server-silent": "An address is held, but no server answers now: it will be lost later.",
    "address-of-another-pool": "{address} is not of this service's pool: another line's, perhaps.",
    "unexpected-dhcp-server": "The server {server} is not one that this service should have.",
}

STEP = {
    "widen-address-pool": (
        "Restart the router; if that does not help, widen its address range.",
        "Ask first: phone and alarm may drop meanwhile.",
    ),
    "clear-refused-lease": (
        "Unplug and replug the laptop; if it is refused again, restart what gives the addresses.",
        "Ask first: phone and alarm may drop meanwhile.",
    ),
    "ask-for-address-again": (
        "Set the port to automatic addresses, unplug and replug it, then run again.",
        "",
    ),
    "check-sync-and-tag": (
        "Check that the modem has sync, and whether this line wants a VLAN tag; then run again.",
        "Do not open taps or powered plant.",
    ),
    "start-pppoe-session": ("Start the PPPoE session, then run again.", ""),
    "find-second-dhcp-server": (
        "Find the second device that gives addresses and switch that service off.",
        "Change nothing of the customer's without a yes.",
    ),
    "find-address-user": (
        "Find the device that has this address set by hand, and let it take one by itself.",
        "Change nothing of the customer's without a yes.",
    ),
    "set-router-option": (
        "Let what gives the addresses give its gateway too, then run again.",
        "Change nothing of the customer's without a yes.",
    ),
    "set-dns-option": (
        "Let what gives the addresses give a resolver too, then run again.",
        "Change nothing of the customer's without a yes.",
    ),
    "set-mask-option": (
        "Correct the network mask or the gateway in what gives the addresses, then run again.",
        "Change nothing of the customer's without a yes.",
    ),
    "set-lease-times": (
        "Put the lease times of the server back to its defaults, then run again.",
        "Change nothing of the customer's without a yes.",
    ),
    "check-drop": (
        "Compare the drop's label with the work order; have the operator check line and profile.",
        "Do not open taps or powered plant.",
    ),
}
