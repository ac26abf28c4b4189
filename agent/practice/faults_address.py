"""The faults of the address that the laptop holds."""

from __future__ import annotations

from agent.practice.fault import DHCP, Effect, Fault, always
from agent.practice.homes import STATIC

FAULTS: tuple[Fault, ...] = (
    Fault(
        name="self-assigned",
        segment="home",
        sentence="The home router hands out no addresses, and the laptop makes one up.",
        effects=always(Effect(silent=frozenset({DHCP}), strike="self_assigned")),
        findings=("self-assigned",),
    ),
    Fault(
        name="lease-expired",
        segment="home",
        sentence="The home router renews no lease; the laptop keeps its address beyond the end.",
        effects=always(Effect(strike="lease_expired")),
        findings=("lease-expired",),
    ),
    Fault(
        name="two-leases",
        segment="home",
        sentence="Two routers of the home each gave the laptop's port an address.",
        effects=always(Effect(prepare="second_dhcp", strike="two_leases")),
        findings=("two-leases",),
    ),
    Fault(
        name="no-default-way",
        segment="laptop",
        sentence="The laptop holds a good lease and did not put its gateway in force.",
        effects=always(Effect(strike="no_default_way")),
        findings=("no-default-way",),
    ),
    Fault(
        name="no-resolver-set",
        segment="laptop",
        sentence="The address was typed in by hand, and no resolver with it.",
        effects=always(Effect(home=STATIC, strike="no_resolver_set")),
        findings=("no-resolver",),
    ),
)
