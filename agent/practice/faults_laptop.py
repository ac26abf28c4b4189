"""Weaknesses of the laptop, its adapter and its way to the router: the line is sound in each.

What this computer can really be made to do is played; the speed, duplex, medium and bus of a port
that exists in software only are told to the visit instead, and marked so in its record.
"""

from __future__ import annotations

from agent.practice.fault import Effect, Fault, always, each
from agent.practice.home_figures import port_figures

FULL_SPEED_BPS = 9_728_000
"""Most payload of bulk transfers on a bus of 12 Mbit/s: 19 of 64 octets in each millisecond (USB
2.0 §5.8.4)."""


def _bus(bus_bps: int, carried_bps: int, least_down_bps: int | None = None) -> Effect:
    return Effect(
        prepare="way_to_router",
        tells={"speed_bps": 1_000_000_000, "bus_bps": bus_bps},
        plays={"home_down_bps": carried_bps, "home_up_bps": carried_bps},
        least_down_bps=least_down_bps,
    )


def _traffic(rate_bps: int) -> Effect:
    return Effect(strike="laptop_traffic", plays={"laptop_traffic_bps": rate_bps})


def _adapters(delay_ms: float, loss: float) -> Effect:
    """Return a pair that takes so long each way (common practice, no source)."""
    lost = {"home_loss": loss} if loss else {}
    plays = {"home_delay_ms": delay_ms, "home_jitter_ms": delay_ms / 4, **lost}
    return Effect(prepare="way_to_router", plays=plays)


def _starved(share: float) -> Effect:
    return Effect(strike="slow_laptop", plays={"laptop_share": share})


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
        sentence="The laptop's port came up at 10 Mbit/s.",
        effects=always(
            Effect(
                prepare="way_to_router",
                tells={"speed_bps": 10_000_000},
                plays=port_figures(10_000_000),
            )
        ),
        findings=("port-below-tier",),
    ),
    Fault(
        name="slow-bus",
        segment="laptop",
        sentence="The adapter hangs on a USB bus of 480 or of 12 Mbit/s.",
        effects=each(
            _bus(480_000_000, 200_000_000, 300_000_000),
            _bus(12_000_000, FULL_SPEED_BPS),
            _bus(12_000_000, FULL_SPEED_BPS // 3),
        ),
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
        sentence="Another program on the laptop sends some Mbit/s all the while.",
        effects=each(_traffic(2_000_000), _traffic(4_000_000), _traffic(12_000_000)),
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
        effects=each(_adapters(2.0, 0.0), _adapters(4.0, 0.001), _adapters(10.0, 0.005)),
        findings=("hidden-hop",),
    ),
    Fault(
        name="slow-laptop",
        segment="laptop",
        sentence="Other work takes the laptop's processor (as the file of its system shows).",
        effects=each(_starved(0.5), _starved(0.25), _starved(0.12)),
        findings=("laptop-limits", "laptop-busy"),
    ),
)
