"""What the sheet says of who holds the rate, of drops, congestion and detours, in English."""

from __future__ import annotations

FINDING: dict[str, str] = {
    "held-in-home": (
        "Slow, and the waiting begins in the home, before the modem: the router, its cable or "
        "Wi-Fi holds the rate, not the line."
    ),
    "held-past-line": (
        "Slow, though the line to the home is not full: the waiting begins past it, in the "
        "operator's network or at its test server."
    ),
    "other-profile": (
        "A steady rate with nothing lost, just that of {profile}: the line seems to be set to"
        " that product, not to the one sold."
    ),
    "operator-congested": (
        "Delay to the line's far end is even, past it varies by {spread_ms}: the operator's "
        "network is busy with other customers' traffic."
    ),
    "path-detour": (
        "The line is quick, but past it every packet takes {added_ms} longer: the operator's "
        "network leads it a long way round."
    ),
    "household-traffic": (
        "A queue of {idle_queue_ms} stood on the line before this laptop filled it: something else "
        "in the home seems to be using it."
    ),
    "delay-varies": (
        "The line's own delay varies by {spread_ms}, beyond {limit_ms}, while the home's is even."
    ),
    "port-flaps": (
        "The link between laptop and router or modem came and went while it was measured: "
        "cord, socket or port."
    ),
    "line-drops": (
        "Nothing came from past the modem for moments, up to {longest_s}, while the router in"
        " the home kept answering: the line or the modem."
    ),
    "cable-loses-when-busy": (
        "{lost} of {sent} packets are lost between laptop and router while the cable is busy, "
        "hardly any before: duplex mismatch or poor cable."
    ),
    "long-frames-lost": (
        "Between laptop and router {lost} of {sent} long packets are lost and short ones are not: "
        "a poor cable, or two ends that disagree about duplex."
    ),
}

STEP: dict[str, tuple[str, str]] = {
    "change-modem-cord": (
        (
            "Change the cord between router and modem, then its sockets, and run again. Still "
            "lost: read the modem's levels."
        ),
        (
            "Ask first: phone and alarm may drop meanwhile. Do not open taps or powered plant. "
            "Never look into a fibre or connector."
        ),
    ),
    "measure-at-modem": (
        (
            "Plug the laptop into the modem itself and run again. Full rate there: the router"
            " limits; slow there too: judge the line by that run."
        ),
        "Ask before unplugging anything; leave alarm and telecare connected.",
    ),
    "report-detour": (
        "Refer to the operator's network desk with this sheet; leave the home's wiring alone.",
        "",
    ),
    "read-levels-and-log": (
        (
            "Read the modem's log and levels, check connectors in reach. Levels bad at the "
            "entry: line crew; good, yet the modem restarts: swap it; else network desk."
        ),
        (
            "Do not disturb the ground bond. Do not open taps or powered plant. Never look "
            "into a fibre or connector. Ask before a swap: phone and alarm drop."
        ),
    ),
}
