"""Faults that a laptop at the modem meets: nothing of the home stands before it."""

from __future__ import annotations

from agent.practice.fault import DHCP, Effect, Fault, always, each
from agent.practice.homes import AT_MODEM

FAULTS: tuple[Fault, ...] = (
    Fault(
        name="modem-bound",
        segment="modem",
        sentence="The modem still serves the device before this laptop, and no other.",
        effects=always(Effect(prepare="modem_bound", home=AT_MODEM)),
        findings=("no-lease",),
    ),
    Fault(
        name="lossy-drop-at-modem",
        segment="access",
        sentence="The line loses packets, both ways alike; the laptop is at the modem.",
        effects=each(
            Effect(loss=0.005, home=AT_MODEM),
            Effect(loss=0.02, home=AT_MODEM),
            Effect(loss=0.05, home=AT_MODEM),
        ),
        findings=("loss-past-modem",),
    ),
    Fault(
        name="slow-at-modem",
        segment="access",
        sentence="The line carries only a part of the tier; the laptop is at the modem.",
        effects=each(
            Effect(tier_share=0.7, home=AT_MODEM),
            Effect(tier_share=0.5, home=AT_MODEM),
            Effect(tier_share=0.3, home=AT_MODEM),
        ),
        findings=("slow-line",),
    ),
    Fault(
        name="not-activated-at-modem",
        segment="operator",
        sentence="The line is not activated; the laptop is at the modem.",
        effects=always(Effect(strike="walled_garden", home=AT_MODEM)),
        findings=("walled-garden",),
    ),
    Fault(
        name="pool-empty-at-modem",
        segment="operator",
        sentence="The operator has no address left for a laptop at the modem.",
        effects=always(Effect(prepare="edge_pool_empty", home=AT_MODEM)),
        findings=("pool-exhausted",),
        probe=True,
    ),
    Fault(
        name="dhcp-silent-at-modem",
        segment="operator",
        sentence="The operator's DHCP server answers nobody; the laptop is at the modem.",
        effects=always(Effect(silent=frozenset({DHCP}), home=AT_MODEM)),
        findings=("no-lease",),
    ),
    Fault(
        name="dead-line-at-modem",
        segment="access",
        sentence="The line is dark; meanwhile the modem gives the laptop an address of its own.",
        effects=always(Effect(prepare="modem_gives_its_own", home=AT_MODEM)),
        findings=("nothing-past-modem",),
    ),
    Fault(
        name="dark-line-at-modem",
        segment="access",
        sentence="The line is dark before the laptop at the modem asks for an address.",
        effects=always(Effect(prepare="line_dark", home=AT_MODEM)),
        findings=("no-lease",),
    ),
    Fault(
        name="line-lost-at-modem",
        segment="access",
        sentence="The line goes dark after the laptop at the modem has its address.",
        effects=always(Effect(strike="line_dark", home=AT_MODEM)),
        findings=("silent-at-modem",),
    ),
)
