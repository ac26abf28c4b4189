"""What a finding's confidence is worth: judgement, corrected by counts of faults that were played.

Each rule states how often it should prove right. Where such findings were counted over played
faults (`tests/bench/diagnosis.py`), the counts speak as well, and judgement weighs as much as so
many visits: the mean of a beta distribution (Gelman, Bayesian Data Analysis, §2.4, from memory).
Where a rule states another figure than its row, it has its reason, and is left. Findings of a busy
laptop are not counted: while the counts were made, it was one.
"""

from __future__ import annotations

from collections.abc import Mapping

from agent.diagnosis.rule import Rule

JUDGEMENT_WEIGHS = 4
"""Visits; few, since judgement has been tried on no line, and some, since played lines are tidy."""

COUNTED: Mapping[str, tuple[int, int]] = {
    "address-of-another-pool": (3, 3),
    "another-line": (1, 1),
    "cable-loses-when-busy": (3, 3),
    "delay-varies": (2, 2),
    "dns-silent": (1, 1),
    "gateway-silent": (1, 1),
    "half-duplex": (1, 1),
    "held-past-line": (3, 3),
    "hidden-hop": (3, 3),
    "household-traffic": (5, 5),
    "ipv4-missing": (1, 1),
    "ipv6-dead": (2, 2),
    "ipv6-large-packets-vanish": (3, 3),
    "ipv6-names-silent": (1, 1),
    "ipv6-no-route": (2, 2),
    "ipv6-site-unanswered": (1, 1),
    "laptop-has-other-traffic": (3, 3),
    "laptop-memory-low": (1, 1),
    "laptop-on-wireless": (4, 4),
    "laptop-saves-power": (1, 1),
    "large-packets-vanish": (3, 3),
    "lease-expired": (1, 1),
    "line-drops": (3, 3),
    "loss-in-operator": (2, 2),
    "loss-past-modem": (6, 6),
    "modem-silent": (1, 1),
    "no-default-way": (1, 1),
    "no-lease": (1, 1),
    "no-resolver": (1, 1),
    "operator-congested": (6, 6),
    "other-profile": (3, 3),
    "port-below-tier": (4, 4),
    "port-flaps": (3, 3),
    "prefix-withdrawn": (1, 1),
    "self-assigned": (1, 1),
    "server-silent": (1, 1),
    "slow-line": (6, 6),
    "tunnel-on": (1, 1),
    "two-ipv6-routers": (1, 1),
    "two-leases": (1, 1),
    "usb-bus-below-tier": (2, 2),
}
"""Findings, as sure as their row, that named a fault which was played, of all reported so."""


def calibrated(rule: Rule, stated: float) -> float:
    """Return the share of findings of a rule that should prove right, 0 to 1."""
    if stated != rule.confidence:
        return stated
    right, of = COUNTED.get(rule.code, (0, 0))
    return (JUDGEMENT_WEIGHS * stated + right) / (JUDGEMENT_WEIGHS + of)
