"""What the sheet says of the laptop, its adapter and a hop that nobody named, in English."""

from __future__ import annotations

FINDING: dict[str, str] = {
    "laptop-on-wireless": (
        "This laptop is on Wi-Fi: what is slow or lost may be the radio's, in the home; the "
        "line cannot be judged."
    ),
    "laptop-clock-off": (
        "The laptop's clock is off by {apart_s}, a time server says: secure pages may fail."
    ),
    "usb-bus-below-tier": (
        "The laptop's network adapter hangs on a USB bus of {measured_bps} and cannot carry the "
        "tier."
    ),
    "laptop-check-below-tier": (
        "In its own check this laptop carried {measured_bps}: not enough to judge this tier."
    ),
    "laptop-saves-power": "The laptop saves power ({measured}): it may be the slow part.",
    "laptop-memory-low": "Only {measured_ratio} of the laptop's memory is free: it may be slow.",
    "laptop-busy": "The laptop's processor was busy ({measured_ratio}) while it measured.",
    "laptop-has-other-traffic": "Other programs on this laptop moved {measured_bps} meanwhile.",
    "hidden-hop": (
        "Wired, yet the gateway answers after {measured_ms}: something stands between (mesh, "
        "powerline, coax adapter)."
    ),
}

STEP: dict[str, tuple[str, str]] = {
    "change-adapter": (
        "Use a USB 3 adapter on a USB 3 socket, or the laptop's own port, then run again.",
        "",
    ),
    "use-stronger-laptop": (
        "Run again with a laptop and adapter whose own check carries this tier.",
        "",
    ),
    "switch-saver-off": (
        "Plug in the mains lead, switch the power saver off, then run again.",
        "",
    ),
    "free-memory": (
        (
            "Close other programs or start the laptop anew, run again; the same again: use "
            "another laptop."
        ),
        "",
    ),
    "stop-other-programs": (
        "Close what else uses the network on this laptop (updates, backups, calls), run again.",
        "",
    ),
    "plug-into-router": (
        (
            "Plug the laptop straight into the router or modem, then run again. Do not report the "
            "line from this."
        ),
        "Leave adapters that are not ours as they are.",
    ),
}
