"""Faults of names: resolvers that are dead, slow or wrong, and what is lost on the way to them."""

from __future__ import annotations

from agent.practice.fault import Effect, Fault, always, each

FAULTS: tuple[Fault, ...] = (
    Fault(
        name="dead-first-dns",
        segment="operator",
        sentence="The first of two resolvers that the lease names does not answer.",
        effects=always(Effect(prepare="dns_first_dead")),
        findings=("dns-first-silent",),
    ),
    Fault(
        name="slow-dns",
        segment="operator",
        sentence="The operator's resolver answers late.",
        effects=each(
            Effect(prepare="dns_slow_150"),
            Effect(prepare="dns_slow_400"),
            Effect(prepare="dns_slow_1200"),
        ),
        findings=("dns-slow",),
    ),
    Fault(
        name="dns-servfail",
        segment="operator",
        sentence="The operator's resolver answers every name with a server failure.",
        effects=always(Effect(prepare="dns_fails")),
        findings=("dns-failing",),
    ),
    Fault(
        name="rewriting-dns",
        segment="operator",
        sentence="The operator's resolver gives an address for names that do not exist.",
        effects=always(Effect(prepare="dns_rewrites")),
        findings=("dns-rewritten",),
    ),
    Fault(
        name="private-dns",
        segment="operator",
        sentence="The operator's resolver leads outside names to a private address.",
        effects=always(Effect(prepare="dns_private")),
        findings=("dns-private-answer",),
    ),
    Fault(
        name="disagreeing-dns",
        segment="operator",
        sentence="Two resolvers of the operator know different addresses of one of its own names.",
        effects=always(Effect(prepare="dns_disagrees")),
        findings=("dns-disagree",),
    ),
    Fault(
        name="dns-without-tcp",
        segment="operator",
        sentence="The operator's resolver is closed to TCP.",
        effects=always(Effect(prepare="dns_without_tcp")),
        findings=("dns-tcp-blocked",),
    ),
    Fault(
        name="dns-truncation-broken",
        segment="operator",
        sentence="Answers of more than 512 bytes over UDP are dropped on their way.",
        effects=always(Effect(prepare="dns_above_512_lost")),
        findings=("dns-large-answers-lost",),
    ),
)
