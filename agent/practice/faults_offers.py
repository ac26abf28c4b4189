"""The faults of what hands out addresses and sessions."""

from __future__ import annotations

from agent.practice.fault import Effect, Fault, always

FAULTS: tuple[Fault, ...] = (
    Fault(
        name="second-dhcp",
        segment="home",
        sentence="A second router on the home network hands out addresses of its own.",
        effects=always(Effect(prepare="second_dhcp", strike="second_dhcp_speaks")),
        findings=("two-dhcp-servers",),
        probe=True,
    ),
    Fault(
        name="pool-exhausted",
        segment="home",
        sentence="The home router has no address left to give.",
        effects=always(Effect(prepare="pool_exhausted")),
        findings=("pool-exhausted",),
        probe=True,
    ),
    Fault(
        name="dhcp-refuses",
        segment="home",
        sentence="The home router offers an address and refuses it to whoever asks.",
        effects=always(Effect(prepare="dhcp_refuses", strike="laptop_keeps_asking")),
        findings=("lease-refused",),
        probe=True,
    ),
    Fault(
        name="no-router-option",
        segment="home",
        sentence="The home router gives addresses without a gateway.",
        effects=always(Effect(prepare="no_router_option")),
        findings=("offer-without-router",),
    ),
    Fault(
        name="no-dns-option",
        segment="home",
        sentence="The home router gives addresses without a resolver.",
        effects=always(Effect(prepare="no_dns_option")),
        findings=("offer-without-dns",),
    ),
    Fault(
        name="timers-reversed",
        segment="home",
        sentence="The home router gives renewal times the wrong way round.",
        effects=always(Effect(prepare="timers_reversed")),
        findings=("timers-out-of-order",),
    ),
    Fault(
        name="address-in-use",
        segment="home",
        sentence="Another device in the home has the laptop's address, set by hand.",
        effects=always(Effect(prepare="device_beside", strike="address_in_use")),
        findings=("address-in-use",),
        probe=True,
    ),
    Fault(
        name="swapped-drop",
        segment="access",
        sentence="The drop leads to another service: its address is of another pool.",
        effects=always(Effect(prepare="swapped_drop")),
        findings=("address-of-another-pool",),
    ),
    Fault(
        name="pppoe-untouched",
        segment="laptop",
        sentence="A PPPoE line whose session was never started; its concentrator answers.",
        effects=always(Effect(handover="pppoe", strike="pppoe_untouched")),
        findings=("pppoe-not-started", "pppoe-no-session"),
    ),
    Fault(
        name="pppoe-silent",
        segment="access",
        sentence="A PPPoE line on which no concentrator answers.",
        effects=always(Effect(handover="pppoe", strike="no_session")),
        findings=("pppoe-silent",),
        probe=True,
    ),
)
