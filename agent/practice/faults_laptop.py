"""Weaknesses of the laptop, its adapter and its way to the router: the line is sound in each.

What this computer can really be made to do is played; the speed, duplex, medium and bus of a port
that exists in software only are told to the visit instead, and marked so in its record.
"""

from __future__ import annotations

from agent.practice.fault import Effect, Fault, always

FAULTS: tuple[Fault, ...] = (
    Fault(
        name="laptop-wireless",
        segment="home",
        sentence="The laptop is on Wi-Fi (told to the visit, no radio is played).",
        effects=always(Effect(tells={"medium": "wireless"})),
        findings=("laptop-on-wireless",),
    ),
    Fault(
        name="half-duplex",
        segment="home",
        sentence="The laptop's port came up half duplex (told to the visit).",
        effects=always(Effect(tells={"duplex": "half"})),
        findings=("half-duplex",),
    ),
    Fault(
        name="slow-port",
        segment="home",
        sentence="The laptop's port came up at 10 Mbit/s (told to the visit).",
        effects=always(Effect(tells={"speed_bps": 10_000_000})),
        findings=("port-below-tier",),
    ),
    Fault(
        name="slow-bus",
        segment="laptop",
        sentence="The adapter hangs on a USB bus of 12 Mbit/s (told to the visit).",
        effects=always(Effect(tells={"speed_bps": 1_000_000_000, "bus_bps": 12_000_000})),
        findings=("usb-bus-below-tier",),
    ),
    Fault(
        name="tunnel",
        segment="laptop",
        sentence="Everything the laptop sends by itself goes through a tunnel.",
        effects=always(Effect(strike="tunnel")),
        findings=("tunnel-on",),
    ),
    Fault(
        name="second-line",
        segment="laptop",
        sentence="The laptop reaches the world over a second network, beside the tested line.",
        effects=always(Effect(strike="second_line")),
        findings=("another-line",),
    ),
    Fault(
        name="laptop-traffic",
        segment="laptop",
        sentence="Another program on the laptop sends 4 Mbit/s all the while.",
        effects=always(Effect(strike="laptop_traffic")),
        findings=("laptop-has-other-traffic",),
    ),
    Fault(
        name="battery-saver",
        segment="laptop",
        sentence="The laptop runs on battery and saves power (by files that its system shows).",
        effects=always(Effect(strike="battery_saver")),
        findings=("laptop-saves-power",),
    ),
    Fault(
        name="little-memory",
        segment="laptop",
        sentence="Nearly all of the laptop's memory is taken (by the file that its system shows).",
        effects=always(Effect(strike="little_memory")),
        findings=("laptop-memory-low",),
    ),
    Fault(
        name="hidden-hop",
        segment="home",
        sentence="A powerline pair of some milliseconds stands between laptop and router.",
        effects=always(Effect(prepare="hidden_hop")),
        findings=("hidden-hop",),
    ),
)
