"""What the sheet says of the address that the laptop holds, in English."""

from __future__ import annotations

FINDING = {
    "tag-missing": "This line wants frames with VLAN tag {tag}; the port under test has it not.",
    "self-assigned": "Nothing gave an address, so the laptop made one up: {address}.",
    "lease-expired": "The lease of {address} ran out {expired_s} ago and was not renewed.",
    "address-duplicate": "Another device already has {address}, so this laptop may not use it.",
    "two-leases": "This port has two leases, {address} and {other}: two devices give addresses.",
    "two-ways": "Two ways lead out of this port, over {gateway} and over {other}.",
    "no-default-way": "{address} is held, but no way leads on from it: no gateway is in force.",
    "no-resolver": "An address is held, but no resolver is set: no name can be looked up.",
    "lease-without-resolver": (
        "The lease names no resolver; this laptop has its own ({resolver}), other devices none."
    ),
    "prefix-withdrawn": "The IPv6 prefix of {address} is no longer announced.",
    "port-beside": "This laptop is in the same network by another port too: {port}.",
}

STEP = {
    "set-tag": (
        "Make a VLAN interface with the tag of the line's handover, test over it, run again.",
        "",
    ),
    "keep-one-way": (
        "Remove the gateway that does not belong to this line, then run again.",
        "Change nothing of the customer's without a yes.",
    ),
    "set-gateway-by-hand": ("Add the gateway to the address that was typed in, run again.", ""),
    "set-resolver-by-hand": ("Add a resolver to the address that was typed in, run again.", ""),
    "switch-other-port-off": ("Switch the other port or Wi-Fi off, then run again.", ""),
}
