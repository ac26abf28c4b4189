"""What the sheet says of the address that the laptop holds, in English."""

from __future__ import annotations

FINDING: dict[str, str] = {
    "tag-missing": (
        "This line wants frames with VLAN tag {tag} and this laptop's port does not send it: no "
        "line fault so far."
    ),
    "self-assigned": (
        "Router or modem gave no address, so the laptop made one up ({address}): nothing is known "
        "of the line yet."
    ),
    "lease-expired": (
        "The lease of {address} ran out {expired_s} ago, here in the home, and was not renewed."
    ),
    "address-duplicate": (
        "Another device here already has {address}, so this laptop may not use it."
    ),
    "two-leases": (
        "This port has two leases, {address} and {other}: two devices here give addresses."
    ),
    "two-ways": "This laptop has two ways out of one port, over {gateway} and over {other}.",
    "no-default-way": (
        "{address} is held, but this laptop has no gateway in force: nothing leaves it."
    ),
    "no-resolver": (
        "This laptop holds an address but no resolver: it can look up no name, whatever the line "
        "does."
    ),
    "lease-without-resolver": (
        "Router or modem names no resolver: other devices here find no names; this laptop has its "
        "own ({resolver})."
    ),
    "prefix-withdrawn": (
        "The router no longer announces the IPv6 prefix of {address}: IPv6 stops for the devices "
        "here."
    ),
    "port-beside": (
        "This laptop is in the same network by a second port ({port}), which may carry part of "
        "the test."
    ),
}

STEP: dict[str, tuple[str, str]] = {
    "set-tag": (
        "On this laptop make a VLAN interface with that tag and run again over it.",
        "",
    ),
    "keep-one-way": (
        (
            "Look up which gateway is this line's (its label or page), remove the other from "
            "the laptop, run again."
        ),
        "Change nothing of the customer's without a yes.",
    ),
    "set-gateway-by-hand": ("Add the gateway to the address that was typed in, run again.", ""),
    "set-resolver-by-hand": ("Add a resolver to the address that was typed in, run again.", ""),
    "switch-other-port-off": (
        "Switch the laptop's other port or Wi-Fi off, then run again.",
        "",
    ),
}
