"""What the sheet says of findings and next steps in English, keyed by the codes of the record."""

from __future__ import annotations

FINDING: dict[str, str] = {
    "no-interface": (
        "This laptop has no network port of that name: the fault is here, not on the line."
    ),
    "port-down": (
        "The port has no link, no signal arrives on the cable: cable, socket, or the device at "
        "its other end."
    ),
    "tunnel-on": (
        "A tunnel (VPN) on this laptop carried the test, so this says nothing about the line."
    ),
    "another-line": (
        "The test left over another line (hotspot, second connection): this says nothing about "
        "the line under test."
    ),
    "no-lease": (
        "The link is good, but nothing gave an address: look at router or modem before the line."
    ),
    "gateway-silent": (
        "An address is held, but the gateway and everything beyond it are silent: look at router "
        "or modem and its cable before the line."
    ),
    "silent-at-modem": "An address is held, but nothing answers past this laptop: modem or line.",
    "modem-silent": (
        "The router answers; the modem and everything beyond it do not: the modem, its power or "
        "its cables."
    ),
    "nothing-past-modem": (
        "The modem answers and nothing beyond it does: the line, or the modem's port to the line."
    ),
    "nothing-past-gateway": "The gateway answers, nothing beyond it: modem or line.",
    "loss-at-gateway": (
        "{lost} of {sent} packets are lost between laptop and gateway, before the line."
    ),
    "loss-at-modem": (
        "{lost} of {sent} packets are lost between laptop and modem: cord, laptop's port or "
        "modem's socket."
    ),
    "loss-before-modem": (
        "Clean to the router, packets are lost between router and modem: their cord or its sockets."
    ),
    "loss-past-modem": "Clean before the line; loss begins just past the modem.",
    "loss-before-first-hop": (
        "Packets are lost before the first hop past the modem: on the line, unless the home's"
        " own cable loses them."
    ),
    "loss-past-gateway": (
        "Clean to the gateway, packets are lost beyond it: the line first; the operator's "
        "network was not told apart."
    ),
    "loss-unplaced": (
        "Packets are lost on the way to the server; nothing nearer was measured that tells where."
    ),
    "loss-in-operator": (
        "Clean up to the line's far end; packets are lost beyond it, in the operator's network."
    ),
    "large-packets-vanish": (
        "Packets above {path_mtu_bytes} bytes vanish without a word, {vanish_after}: some pages "
        "and uploads hang."
    ),
    "port-below-tier": (
        "The link on the laptop's cable came up at {speed_bps} and cannot carry the tier: "
        "cord or port, not the line."
    ),
    "half-duplex": (
        "The laptop's port came up half duplex: the cable's two ends hold the rate, not the line."
    ),
    "slow-line": (
        "Below the tier, and neither this laptop nor the home held it back: the line, or the "
        "profile it is set to."
    ),
    "slow-not-attributable": "Slow here, but {fact}: the line itself cannot be judged by this.",
    "rate-unsteady": (
        "Two measurements of one direction differ too much to rely on either; where that "
        "arises is not known yet."
    ),
    "laptop-limits": "This laptop could not keep up, so the line's own rate was not seen.",
    "window-limits": "A TCP window was too small for this round trip; the line may carry more.",
    "server-limits": (
        "The operator's test server gave no more: too small for this line, or busy; the line "
        "may carry more."
    ),
    "other-traffic-limits": "Other programs on this laptop used the line while it was measured.",
    "server-silent": (
        "The line passes traffic, but the operator's test server gives no answer or no transfer: "
        "the fault is there."
    ),
    "delay-rises-under-load": (
        "A full line raises its delay by over {limit_ms}: a long queue in router or modem; calls "
        "may suffer."
    ),
    "delay-high": (
        "The delay is {median_ms} median, at most {limit_ms} is accepted; it arises {arises}."
    ),
}

# How packets were lost, after the sentence of a finding.
LOSS_WAY = {
    "up": "on the way up, from the home",
    "down": "on the way down, to the home",
    "both": "both ways",
}
FINDING_FALLBACK = "Finding {code}."
LIKELY, POSSIBLE = "Likely", "Possible"
ADVICE = "Advice: {finding}"
FINDINGS_NONE = "Nothing wrong was seen."
FINDINGS_TOO_LITTLE = "Too little was measured to say where a fault is."

# Each next step: what to do, and what to mind.
STEP: dict[str, tuple[str, str]] = {
    "check-adapter": (
        "Check the name of the port and the laptop's network adapter, then run again.",
        "",
    ),
    "check-cable": (
        (
            "Check cable, sockets, and that the device at the other end is on; change the cable, "
            "then run again."
        ),
        "Never unplug an alarm or a telecare device.",
    ),
    "switch-tunnel-off": ("Switch the tunnel (VPN) off, then run again.", ""),
    "use-tested-line": ("Leave hotspot and other networks, use the tested line, run again.", ""),
    "restart-router": (
        (
            "Check the router's cable, restart it, run again when it is up; the same again: "
            "plug the laptop in at the modem and run there."
        ),
        "Ask first: phone and alarm may drop meanwhile.",
    ),
    "restart-modem-alone": (
        (
            "The modem may still hold the last device: restart it with only this laptop on it, "
            "wait five minutes, run again. Still none: see its line light, ask the operator."
        ),
        "Ask first: phone and alarm drop meanwhile.",
    ),
    "read-levels-or-swap-modem": (
        (
            "See that the modem has power and its cables sit; read levels at it or where the "
            "line enters. Good: swap the modem; bad: line crew."
        ),
        (
            "Do not open taps or powered plant. Never look into a fibre or connector. Ask "
            "first: phone and alarm drop meanwhile."
        ),
    ),
    "read-levels-at-modem": (
        (
            "Read the levels at the modem and compare with the limits; out of range: line crew; "
            "good: the operator's network desk."
        ),
        "Do not open taps or powered plant. Never look into a fibre or connector.",
    ),
    "read-levels": (
        (
            "Check connectors in reach, read levels at the entry and at the modem. Bad at the"
            " entry: line crew; only at the modem: the wiring between; good at both: network "
            "desk."
        ),
        (
            "Do not disturb the ground bond. Do not open taps or powered plant. Never look "
            "into a fibre or connector."
        ),
    ),
    "change-cord-or-port": (
        (
            "Change the patch cord, then the adapter or the port at either end; run again. Do"
            " not report the line from this."
        ),
        "",
    ),
    "check-auto-negotiation": (
        (
            "Set both ends of the cable to negotiate by themselves; if it stays so, change the "
            "cable; run again. Do not report the line from this."
        ),
        "Change nothing of the customer's without a yes.",
    ),
    "check-provisioning": (
        "Have the provisioned profile checked against the work order. Leave the wiring alone.",
        "",
    ),
    "check-profile-then-levels": (
        (
            "Have the profile checked against the work order. Profile right: read levels at "
            "the modem; bad: line crew; good: network desk."
        ),
        "Do not open taps or powered plant. Never look into a fibre or connector.",
    ),
    "plug-in-cable": (
        "Plug the laptop in by cable, directly at the modem, and run again.",
        "Ask before unplugging anything; leave alarm and telecare connected.",
    ),
    "stop-other-traffic": (
        (
            "Stop what else in the home uses the line, run again with the option "
            "--nothing-else-on, which states that."
        ),
        "Never unplug an alarm or a telecare device.",
    ),
    "free-the-laptop": (
        (
            "Close other programs, plug in the mains lead, run again; the same again: use "
            "another laptop."
        ),
        "",
    ),
    "reset-windows": (
        (
            "Take back changes to the laptop's TCP settings, start it anew, run again; the "
            "same again: use another laptop."
        ),
        "",
    ),
    "use-larger-server": ("Run again with a test server that can fill this line.", ""),
    "set-queue-management": (
        (
            "Where the router is ours, switch its queue management on, just below the line's "
            "rate; else tell the customer."
        ),
        "Change nothing of the customer's without a yes.",
    ),
    "set-router-mtu": (
        (
            "Set the router's packet size (MTU) to that of the line, or have it clamp TCP's MSS, "
            "then run again."
        ),
        "Change nothing of the customer's without a yes.",
    ),
    "repeat-later": (
        (
            "Run again later, when line and test server are less busy; the same again: refer to "
            "the network desk."
        ),
        "",
    ),
    "use-tried-system": ("Run again on a laptop with Linux, where this program was tried.", ""),
    "repeat-fit": (
        "Put right what this sheet says of the laptop and the test, then run again.",
        "",
    ),
    "finish-activation": (
        "Finish the activation, allow 15 minutes, then run again. It is not a line fault.",
        "",
    ),
    "report-server": (
        "Report the test server to the operator's network desk with this sheet; run again later.",
        "",
    ),
    "refer-to-operator": ("Refer to the operator's network desk with this sheet.", ""),
    "none-on-this-line": (
        (
            "Nothing to do on this line; if more pages do the same, refer to the operator's "
            "network desk."
        ),
        "",
    ),
}
STEP_FALLBACK = "Follow the step with the code {code}."
STEP_MEETS = (
    "Nothing to do on this line. Trouble elsewhere in the home is Wi-Fi or equipment; an evening "
    "complaint needs an evening test."
)
STEP_UNPROVEN = "Complete what was not measured, then run again."
STEP_BELOW = "Refer to the operator with this sheet."
# Where no finding gives a step, the reason that kept the verdict open does.
STEP_BY_REASON = {
    "no-tier": "Run again with --tier and the name of the product sold.",
    "others-on-unknown": "stop-other-traffic",
    "others-on": "stop-other-traffic",
    "unfit": "repeat-fit",
    "limited": "repeat-fit",
    "measurements-disagree": "Run again: the rate changed between two measurements.",
    "single-measurement": "Run again: a second measurement would confirm the rate.",
    "port-ceiling": "change-cord-or-port",
    "another-line": "use-tested-line",
    "tunnel": "switch-tunnel-off",
    "pppoe-no-session": "start-pppoe-session",
    "within-interval": "Run again with a longer plan: the number lies too close to its limit.",
    "too-few-probes": "Run again with a longer plan.",
    "cut-short": "Run again and let it finish.",
}
