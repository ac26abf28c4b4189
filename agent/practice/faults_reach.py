"""Faults of reach: ports that somebody on the way stops, and a translator at the operator."""

from __future__ import annotations

from agent.practice.fault import Effect, Fault, always
from agent.practice.homes import DOUBLE_ROUTER

_BLOCKED = ("port-blocked",)

FAULTS: tuple[Fault, ...] = (
    Fault(
        name="port-blocked-home",
        segment="home",
        sentence="The home router drops what goes to the mail port.",
        effects=always(Effect(strike="home_drops_port")),
        findings=_BLOCKED,
    ),
    Fault(
        name="port-refused-home",
        segment="home",
        sentence="The home router refuses the mail port in the far end's name.",
        effects=always(Effect(strike="home_refuses_port")),
        findings=_BLOCKED,
    ),
    Fault(
        name="port-blocked-second-router",
        segment="home",
        sentence="The outer one of two routers in the home drops what goes to the mail port.",
        effects=always(Effect(strike="outer_drops_port", home=DOUBLE_ROUTER)),
        findings=_BLOCKED,
    ),
    Fault(
        name="port-blocked-operator",
        segment="operator",
        sentence="The operator's edge drops what goes to the mail port.",
        effects=always(Effect(strike="edge_drops_port")),
        findings=_BLOCKED,
    ),
    Fault(
        name="udp-blocked-operator",
        segment="operator",
        sentence="The operator's edge says that UDP to one port is forbidden.",
        effects=always(Effect(strike="edge_forbids_udp")),
        findings=_BLOCKED,
    ),
    Fault(
        name="port-refused-far",
        segment="beyond",
        sentence="The far end refuses connections to its mail port.",
        effects=always(Effect(strike="far_end_refuses_port")),
        findings=("port-refused",),
    ),
    Fault(
        name="carrier-nat",
        segment="none",
        sentence="The operator gives shared addresses and translates them at its edge.",
        effects=always(Effect(prepare="carrier_nat")),
        findings=("carrier-translation",),
    ),
)
