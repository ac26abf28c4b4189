"""The faults of what routers and servers say of IPv6."""

from __future__ import annotations

from agent.practice.fault import Effect, Fault, always
from agent.practice.homes import DUAL_STACK

FAULTS: tuple[Fault, ...] = (
    Fault(
        name="two-routers",
        segment="home",
        sentence="A second router of the home says over IPv6 that it is the way out too.",
        effects=always(
            Effect(prepare="second_router", strike="second_router_advertises", home=DUAL_STACK)
        ),
        findings=("two-ipv6-routers",),
    ),
    Fault(
        name="prefix-expired",
        segment="home",
        sentence="The home router goes on giving an IPv6 prefix that has run out.",
        effects=always(Effect(strike="prefix_expired", home=DUAL_STACK)),
        findings=("ipv6-prefix-expired", "prefix-withdrawn"),
    ),
    Fault(
        name="no-default-router",
        segment="home",
        sentence="The home router's IPv6 goes on, but it says that it is the way out no longer.",
        effects=always(Effect(strike="no_default_router", home=DUAL_STACK)),
        findings=("no-ipv6-router", "ipv6-no-route"),
    ),
    Fault(
        name="managed-without-server",
        segment="home",
        sentence="The home router leaves IPv6 addresses to a server that is not there.",
        effects=always(Effect(strike="managed_without_server", home=DUAL_STACK)),
        findings=("managed-without-server",),
    ),
)
