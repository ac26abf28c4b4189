"""The faults of the home between laptop and modem; the line is sound in each.

The speed, duplex and medium of a port that exists in software only are told to the visit; what a
cable, a radio or a router of that kind does to packets is played.
"""

from __future__ import annotations

from agent.practice.fault import Effect, Fault, each
from agent.practice.home_figures import port_figures
from agent.practice.homes import DOUBLE_ROUTER
from agent.practice.line import Severity

TEN, HUNDRED = 10_000_000, 100_000_000
"""Speeds that ports agree on, bit/s (IEEE 802.3 clauses 14 and 25)."""

TIER_ABOVE_HUNDRED = 300_000_000


def _cable(speed_bps: int, least_down_bps: int | None = None, loss: float = 0.0) -> Effect:
    lost = {"home_loss": loss} if loss else {}
    return Effect(
        prepare="way_to_router",
        tells={"speed_bps": speed_bps},
        plays={**port_figures(speed_bps), **lost},
        least_down_bps=least_down_bps,
    )


def _mismatch(share: float) -> Effect:
    plays = {"collision_share": share, "home_port_bps": HUNDRED, **port_figures(HUNDRED)}
    tells: dict[str, str | int] = {"speed_bps": HUNDRED, "duplex": "full"}
    return Effect(prepare="duplex_mismatch", tells=tells, plays=plays)


def _radio(rate_bps: int, jitter_ms: float, loss: float, run: float) -> Effect:
    plays = {
        "home_down_bps": rate_bps,
        "home_up_bps": rate_bps,
        "home_jitter_ms": jitter_ms,
        "home_loss": loss,
        "home_loss_run": run,
    }
    return Effect(prepare="way_to_router", tells={"medium": "wireless"}, plays=plays)


def _busy(strike: str, *wants: tuple[float, int]) -> dict[Severity, Effect]:
    """Return a device that wants a share of the line over so many flows."""
    light, medium, severe = (
        Effect(
            prepare="another_device",
            strike=strike,
            plays={"household_share": share, "household_flows": flows},
        )
        for share, flows in wants or ((0.3, 4), (0.6, 8), (0.9, 16))
    )
    return each(light, medium, severe)


def _limiting(share: float) -> Effect:
    return Effect(home=DOUBLE_ROUTER, strike="router_limits", plays={"router_share": share})


def _flapping(gone_s: float, whole_s: float) -> Effect:
    plays = {"port_gone_s": gone_s, "port_whole_s": whole_s}
    return Effect(prepare="loose_plug", strike="port_flaps", plays=plays)


FAULTS: tuple[Fault, ...] = (
    Fault(
        name="four-wire-cable",
        segment="home",
        sentence="Two of the four pairs of the laptop's cable are broken; its port is slow.",
        effects=each(
            _cable(HUNDRED, TIER_ABOVE_HUNDRED),
            _cable(HUNDRED, TIER_ABOVE_HUNDRED, loss=0.002),
            _cable(TEN),
        ),
        findings=("port-below-tier",),
    ),
    Fault(
        name="duplex-mismatch",
        segment="home",
        sentence="The router's port is in half duplex, the laptop's in full: frames collide.",
        effects=each(_mismatch(0.2), _mismatch(0.5), _mismatch(1.0)),
        findings=("cable-loses-when-busy", "long-frames-lost", "half-duplex"),
    ),
    Fault(
        name="weak-wifi",
        segment="home",
        sentence="The laptop is on a Wi-Fi that is slow, late and lossy.",
        effects=each(
            _radio(60_000_000, 1.0, 0.002, 1.0),
            _radio(25_000_000, 4.0, 0.01, 2.0),
            _radio(6_000_000, 12.0, 0.04, 4.0),
        ),
        findings=("laptop-on-wireless",),
    ),
    Fault(
        name="busy-household-down",
        segment="home",
        sentence="Another device of the home receives all the while; nobody knows.",
        effects=_busy("busy_down"),
        findings=("household-traffic",),
    ),
    Fault(
        name="busy-household-up",
        segment="home",
        sentence="Another device of the home sends all the while; nobody knows.",
        effects=_busy("busy_up"),
        findings=("household-traffic",),
    ),
    Fault(
        name="household-at-rest",
        segment="none",
        sentence="Another device of the home moves next to nothing; the line is sound.",
        effects=_busy("busy_down", (0.002, 1), (0.005, 1), (0.01, 2)),
    ),
    Fault(
        name="slow-second-router",
        segment="home",
        sentence="The customer's own router, behind another one, carries a part of the tier.",
        effects=each(_limiting(0.7), _limiting(0.5), _limiting(0.3)),
        findings=("held-in-home",),
    ),
    Fault(
        name="flapping-port",
        segment="home",
        sentence="The laptop's cable sits loose: its link goes and comes every few seconds.",
        effects=each(_flapping(0.3, 7.0), _flapping(1.0, 4.0), _flapping(2.5, 2.5)),
        findings=("port-flaps", "port-down"),
    ),
)
