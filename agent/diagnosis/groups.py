"""Findings that belong together, so that a rule can explain a whole group away."""

from __future__ import annotations

from agent.diagnosis import loss

SERVICES = frozenset(
    {
        "dns-silent",
        "dns-partly-silent",
        "dns-often-silent",
        "dns-slow",
        "dns-failing",
        "dns-first-silent",
        "dns-private-answer",
        "dns-rewritten",
        "dns-disagree",
        "dns-signed-refused",
        "dns-large-answers-lost",
        "dns-tcp-blocked",
        "dns-not-validating",
        "encrypted-resolver-silent",
        "server-silent",
        "walled-garden",
        "web-unreached",
        "site-unreached",
        "login-page",
        "certificate-problem",
        "content-changed",
        "proxy-in-the-way",
        "web-slow",
        "ipv6-no-route",
        "ipv6-dead",
        "ipv6-large-packets-vanish",
        "ipv6-names-silent",
        "ipv6-slower",
        "ipv6-site-unanswered",
        "port-blocked",
        "port-refused",
        "delay-high",
        "delay-rises-under-load",
    }
)
CUTS = frozenset(
    {
        "gateway-silent",
        "silent-at-modem",
        "modem-silent",
        "nothing-past-modem",
        "nothing-past-gateway",
    }
)
LOSSES = frozenset(
    {
        loss.AT_GATEWAY,
        loss.AT_MODEM,
        loss.BEFORE_MODEM,
        loss.PAST_MODEM,
        loss.BEFORE_FIRST_HOP,
        loss.IN_OPERATOR,
        loss.PAST_GATEWAY,
        loss.UNPLACED,
    }
)
LIMITS = frozenset({"laptop-limits", "window-limits", "server-limits", "other-traffic-limits"})
HELD = frozenset({"held-in-home", "held-past-line", "other-profile"})
RATES = frozenset({"slow-line", "slow-not-attributable", "rate-unsteady"}) | LIMITS | HELD
BEFORE_GATEWAY = frozenset(
    {
        loss.AT_GATEWAY,
        "hidden-hop",
        "long-frames-lost",
        "cable-loses-when-busy",
        "held-in-home",
        "household-traffic",
        "slow-not-attributable",
    }
)
WAVERS = frozenset(
    {"line-drops", "operator-congested", "path-detour", "household-traffic", "delay-varies"}
)
SESSIONS = frozenset({"pppoe-silent", "pppoe-no-session", "pppoe-not-started"})
LEASES = SESSIONS | {"no-lease", "pool-exhausted", "lease-refused", "lease-not-taken"}
ALL_BEYOND = SERVICES | CUTS | LOSSES | RATES | WAVERS
