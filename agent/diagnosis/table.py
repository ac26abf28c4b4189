"""The rule table: every finding, nearest first, with what it explains away.

Confidence is the share of such findings that should prove right; the figures are judgement, to be
replaced by counts once faults are played in numbers. Pings alone never condemn modem or drop: the
next step asks for a level or a swap.
"""

from __future__ import annotations

from agent.diagnosis import loss, outage, rate, services
from agent.diagnosis.model import Segment
from agent.diagnosis.rule import Rule

_SERVICES = frozenset(
    {
        "dns-silent",
        "dns-partly-silent",
        "dns-slow",
        "server-silent",
        "walled-garden",
        "web-unreached",
        "site-unreached",
        "delay-high",
        "delay-rises-under-load",
    }
)
_CUTS = frozenset({"gateway-silent", "modem-silent", "nothing-past-modem", "nothing-past-gateway"})
_LOSSES = frozenset(
    {
        loss.AT_GATEWAY,
        loss.PAST_MODEM,
        loss.BEFORE_FIRST_HOP,
        loss.IN_OPERATOR,
        loss.PAST_GATEWAY,
        loss.UNPLACED,
    }
)
_LIMITS = frozenset({"laptop-limits", "window-limits", "server-limits", "other-traffic-limits"})
_RATES = frozenset({"slow-line", "slow-not-attributable", "rate-unsteady"}) | _LIMITS
_LEASES = frozenset({"no-lease", "pppoe-no-session"})
_ALL_BEYOND = _SERVICES | _CUTS | _LOSSES | _RATES

RULES: tuple[Rule, ...] = (
    Rule(
        code="no-interface",
        segment=Segment.LAPTOP,
        confidence=0.9,
        next_step="check-adapter",
        test=outage.no_interface,
        hides=_ALL_BEYOND | _LEASES | {"port-down"},
    ),
    Rule(
        code="port-down",
        segment=Segment.HOME,
        confidence=0.8,
        next_step="check-cable",
        test=outage.port_down,
        hides=_ALL_BEYOND | _LEASES | {"half-duplex", "port-below-tier"},
    ),
    Rule(
        code="tunnel-on",
        segment=Segment.LAPTOP,
        confidence=0.95,
        next_step="switch-tunnel-off",
        test=services.tunnel_on,
        hides=_ALL_BEYOND | {"another-line"},
    ),
    Rule(
        code="another-line",
        segment=Segment.UNDETERMINED,
        confidence=0.95,
        next_step="use-tested-line",
        test=services.another_line,
        hides=_ALL_BEYOND,
    ),
    Rule(
        code="no-lease",
        segment=Segment.HOME,
        confidence=0.85,
        next_step="restart-router",
        test=outage.no_lease,
        hides=_ALL_BEYOND,
    ),
    Rule(
        code="pppoe-no-session",
        segment=Segment.UNDETERMINED,
        confidence=0.5,
        next_step="start-pppoe-session",
        test=outage.no_session,
        hides=_ALL_BEYOND,
    ),
    Rule(
        code="two-dhcp-servers",
        segment=Segment.HOME,
        confidence=0.7,
        next_step="find-second-dhcp-server",
        test=services.two_dhcp_servers,
    ),
    Rule(
        code="half-duplex",
        segment=Segment.HOME,
        confidence=0.8,
        next_step="check-auto-negotiation",
        test=rate.half_duplex,
        hides=_RATES,
    ),
    Rule(
        code="port-below-tier",
        segment=Segment.HOME,
        confidence=0.9,
        next_step="change-cord-or-port",
        test=rate.port_below_tier,
        hides=_RATES,
    ),
    Rule(
        code="gateway-silent",
        segment=Segment.HOME,
        confidence=0.8,
        next_step="restart-router",
        test=outage.gateway_silent,
        hides=_SERVICES | _LOSSES | _RATES,
    ),
    Rule(
        code="modem-silent",
        segment=Segment.MODEM,
        confidence=0.75,
        next_step="read-levels-or-swap-modem",
        test=outage.modem_silent,
        hides=_SERVICES | _LOSSES | _RATES,
    ),
    Rule(
        code="nothing-past-modem",
        segment=Segment.ACCESS,
        confidence=0.75,
        next_step="read-levels-at-modem",
        test=outage.nothing_past_modem,
        hides=_SERVICES | _LOSSES | _RATES,
    ),
    Rule(
        code="nothing-past-gateway",
        segment=Segment.UNDETERMINED,
        confidence=0.6,
        next_step="read-levels-or-swap-modem",
        test=outage.nothing_past_gateway,
        hides=_SERVICES | _LOSSES | _RATES,
    ),
    Rule(
        code=loss.AT_GATEWAY,
        segment=Segment.HOME,
        confidence=loss.CONFIDENCE[loss.AT_GATEWAY],
        next_step="change-cord-or-port",
        test=loss.loss_at_gateway,
    ),
    Rule(
        code=loss.PAST_MODEM,
        segment=Segment.ACCESS,
        confidence=loss.CONFIDENCE[loss.PAST_MODEM],
        next_step="read-levels",
        test=loss.loss_past_modem,
    ),
    Rule(
        code=loss.BEFORE_FIRST_HOP,
        segment=Segment.ACCESS,
        confidence=loss.CONFIDENCE[loss.BEFORE_FIRST_HOP],
        next_step="read-levels",
        test=loss.loss_before_first_hop,
    ),
    Rule(
        code=loss.IN_OPERATOR,
        segment=Segment.OPERATOR,
        confidence=loss.CONFIDENCE[loss.IN_OPERATOR],
        next_step="refer-to-operator",
        test=loss.loss_in_operator,
    ),
    Rule(
        code=loss.PAST_GATEWAY,
        segment=Segment.ACCESS,
        confidence=loss.CONFIDENCE[loss.PAST_GATEWAY],
        next_step="read-levels",
        test=loss.loss_past_gateway,
    ),
    Rule(
        code=loss.UNPLACED,
        segment=Segment.UNDETERMINED,
        confidence=loss.CONFIDENCE[loss.UNPLACED],
        next_step="read-levels",
        test=loss.loss_unplaced,
    ),
    Rule(
        code="slow-line",
        segment=Segment.ACCESS,
        confidence=0.8,
        next_step="check-provisioning",
        test=rate.slow_line,
        hides=frozenset({"slow-not-attributable"}),
    ),
    Rule(
        code="laptop-limits",
        segment=Segment.LAPTOP,
        confidence=0.75,
        next_step="free-the-laptop",
        test=rate.laptop_limits,
    ),
    Rule(
        code="window-limits",
        segment=Segment.LAPTOP,
        confidence=0.75,
        next_step="reset-windows",
        test=rate.window_limits,
    ),
    Rule(
        code="server-limits",
        segment=Segment.OPERATOR,
        confidence=0.75,
        next_step="repeat-later",
        test=rate.server_limits,
    ),
    Rule(
        code="other-traffic-limits",
        segment=Segment.LAPTOP,
        confidence=0.75,
        next_step="stop-other-traffic",
        test=rate.other_traffic_limits,
    ),
    Rule(
        code="rate-unsteady",
        segment=Segment.UNDETERMINED,
        confidence=0.6,
        next_step="repeat-later",
        test=rate.rate_unsteady,
    ),
    Rule(
        code="slow-not-attributable",
        segment=Segment.UNDETERMINED,
        confidence=0.5,
        next_step="repeat-fit",
        test=rate.slow_not_attributable,
    ),
    Rule(
        code="dns-silent",
        segment=Segment.OPERATOR,
        confidence=0.85,
        next_step="report-resolver",
        test=services.dns_silent,
        hides=frozenset({"web-unreached", "site-unreached"}),
    ),
    Rule(
        code="dns-partly-silent",
        segment=Segment.OPERATOR,
        confidence=0.7,
        next_step="report-resolver",
        test=services.dns_partly_silent,
    ),
    Rule(
        code="dns-slow",
        segment=Segment.OPERATOR,
        confidence=0.6,
        next_step="report-resolver",
        test=services.dns_slow,
    ),
    Rule(
        code="walled-garden",
        segment=Segment.OPERATOR,
        confidence=0.75,
        next_step="finish-activation",
        test=services.walled_garden,
        hides=frozenset({"web-unreached", "site-unreached"}),
    ),
    Rule(
        code="server-silent",
        segment=Segment.OPERATOR,
        confidence=0.7,
        next_step="report-server",
        test=services.server_silent,
    ),
    Rule(
        code="web-unreached",
        segment=Segment.BEYOND,
        confidence=0.75,
        next_step="refer-to-operator",
        test=services.web_unreached,
    ),
    Rule(
        code="site-unreached",
        segment=Segment.BEYOND,
        confidence=0.5,
        next_step="none-on-this-line",
        test=services.site_unreached,
    ),
    Rule(
        code="delay-high",
        segment=Segment.UNDETERMINED,
        confidence=0.6,
        next_step="refer-to-operator",
        test=services.delay_high,
    ),
    Rule(
        code="delay-rises-under-load",
        segment=Segment.NONE,
        confidence=0.9,
        next_step="set-queue-management",
        test=services.delay_rises,
    ),
)
