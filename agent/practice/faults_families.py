"""Faults of IPv6, which a browser that tries both families hides."""

from __future__ import annotations

from agent.practice.fault import DHCP, Effect, Fault, always, each
from agent.practice.homes import DUAL_STACK

FAULTS: tuple[Fault, ...] = (
    Fault(
        name="ipv6-no-route",
        segment="home",
        sentence="The home router gives IPv6 addresses and is no way out for them.",
        effects=always(Effect(prepare="ipv6_no_route", home=DUAL_STACK)),
        findings=("ipv6-no-route", "no-ipv6-router"),
    ),
    Fault(
        name="ipv6-no-uplink",
        segment="home",
        sentence="The home router gives IPv6 addresses and has no IPv6 from the line itself.",
        effects=always(Effect(strike="ipv6_no_uplink", home=DUAL_STACK)),
        findings=("ipv6-dead",),
    ),
    Fault(
        name="ipv6-dead-beyond",
        segment="operator",
        sentence="IPv6 is given, and dropped past the home router; IPv4 works.",
        effects=always(Effect(strike="ipv6_dead_beyond", home=DUAL_STACK)),
        findings=("ipv6-dead",),
    ),
    Fault(
        name="ipv6-large-lost",
        segment="operator",
        sentence="Large packets vanish over IPv6 without a word; small ones pass.",
        effects=each(
            Effect(strike="ipv6_above_1480_lost", home=DUAL_STACK),
            Effect(strike="ipv6_above_1400_lost", home=DUAL_STACK),
            Effect(strike="ipv6_above_1280_lost", home=DUAL_STACK),
        ),
        findings=("ipv6-large-packets-vanish",),
    ),
    Fault(
        name="ipv6-dns-only",
        segment="beyond",
        sentence="A site's name gives an IPv6 address on which nothing answers.",
        effects=always(Effect(strike="ipv6_site_mute", home=DUAL_STACK)),
        findings=("ipv6-site-unanswered",),
    ),
    Fault(
        name="ipv4-gone",
        segment="home",
        sentence="The home router gives IPv6 addresses and no IPv4 ones; nothing translates.",
        effects=always(Effect(silent=frozenset({DHCP}), home=DUAL_STACK)),
        findings=("ipv4-missing",),
    ),
    Fault(
        name="ipv6-names-silent",
        segment="operator",
        sentence="The operator's resolver leaves every question for IPv6 addresses unanswered.",
        effects=always(Effect(prepare="ipv6_names_silent", home=DUAL_STACK)),
        findings=("ipv6-names-silent",),
    ),
)
