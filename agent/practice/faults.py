"""The catalogue of faults: what each does to the line, the services and the network, and where.

A fault is data (`agent.practice.fault`). What a fault does beyond changing the line is a function
of `agent.practice.strikes`, by name.
"""

from __future__ import annotations

from dataclasses import replace

from agent.errors import UsageError
from agent.practice import (
    faults_address,
    faults_advertised,
    faults_families,
    faults_home,
    faults_laptop,
    faults_naming,
    faults_offers,
    faults_reach,
    faults_web,
)
from agent.practice.fault import DHCP, RESOLVER, SERVER, Effect, Fault, always, each
from agent.practice.line import FaultChoice, LineSpec

NOTICEABLE_LOSS = 0.005
"""Ratio each way; common practice, no source: half of the 1 % that spoils calls."""


_LINE: tuple[Fault, ...] = (
    Fault(
        name="slow-line",
        segment="access",
        sentence="The access line carries only a part of the tier, both ways.",
        effects=each(Effect(tier_share=0.7), Effect(tier_share=0.5), Effect(tier_share=0.3)),
        findings=("slow-line",),
    ),
    Fault(
        name="lossy-line",
        segment="access",
        sentence="The access line loses packets, both ways alike.",
        effects=each(Effect(loss=0.005), Effect(loss=0.02), Effect(loss=0.05)),
        findings=(
            "loss-past-modem",
            "loss-before-first-hop",
        ),
    ),
    Fault(
        name="modem-dead",
        segment="modem",
        sentence="The modem keeps its ports up, passes nothing and does not answer.",
        effects=always(Effect(strike="modem_dead")),
        findings=("modem-silent",),
    ),
    Fault(
        name="no-lease",
        segment="home",
        sentence="The home router hands out no addresses.",
        effects=always(Effect(silent=frozenset({DHCP}))),
        findings=("no-lease",),
    ),
    Fault(
        name="dead-dns",
        segment="operator",
        sentence="The operator's resolver does not answer.",
        effects=always(Effect(silent=frozenset({RESOLVER}))),
        findings=("dns-silent",),
    ),
    Fault(
        name="gateway-dead",
        segment="home",
        sentence="The home router stops answering after it has given a lease; its ports stay up.",
        effects=always(Effect(strike="gateway_dead")),
        findings=("gateway-silent",),
    ),
    Fault(
        name="server-down",
        segment="operator",
        sentence="The operator's measuring server is not running.",
        effects=always(Effect(silent=frozenset({SERVER}))),
        findings=("server-silent",),
    ),
)

CATALOGUE: tuple[Fault, ...] = (
    *_LINE,
    *faults_address.FAULTS,
    *faults_advertised.FAULTS,
    *faults_families.FAULTS,
    *faults_home.FAULTS,
    *faults_laptop.FAULTS,
    *faults_naming.FAULTS,
    *faults_offers.FAULTS,
    *faults_reach.FAULTS,
    *faults_web.FAULTS,
)


def find_fault(name: str) -> Fault:
    """Return the fault of that name. Raises UsageError."""
    found = next((fault for fault in CATALOGUE if fault.name == name), None)
    if found is None:
        known = ", ".join(fault.name for fault in CATALOGUE)
        raise UsageError(problem=f"There is no fault {name!r}.", remedy=f"Choose one of: {known}.")
    return found


def effect_of(choice: FaultChoice) -> Effect:
    """Return what a chosen fault does. Raises UsageError."""
    return find_fault(choice.name).effects[choice.severity]


def as_struck(spec: LineSpec) -> LineSpec:
    """Return the line as its faults leave it, in the home that they need."""
    for effect in map(effect_of, spec.faults):
        if effect.tier_share is not None:
            share = effect.tier_share
            spec = replace(spec, provisioned=share, line_down_bps=None, line_up_bps=None)
        if effect.handover is not None:
            spec = replace(spec, handover=effect.handover)
        if effect.loss is not None:
            spec = replace(spec, loss_down=effect.loss, loss_up=effect.loss)
        if effect.home is not None:
            spec = replace(spec, home=effect.home)
    return spec.at_home()


def told_facts(spec: LineSpec) -> dict[str, str | int]:
    """Return the facts of the laptop that the visit is told, since no kernel can play them."""
    told = (effect_of(choice).tells for choice in spec.faults)
    return {name: value for tells in told for name, value in tells.items()}


def played_figures(spec: LineSpec) -> dict[str, float]:
    """Return the figures of what the faults play in home and laptop."""
    played = (effect_of(choice).plays for choice in spec.faults)
    return {name: value for plays in played for name, value in plays.items()}


def silent_services(spec: LineSpec) -> frozenset[str]:
    """Return the services that the faults keep silent."""
    return frozenset().union(*(effect_of(choice).silent for choice in spec.faults))


def segment_of(spec: LineSpec) -> str:
    """Return where the fault is; of several the one nearest to the laptop, "none" without one.

    A line ordered slower than its tier, or with noticeable loss, is a fault of the access line.
    """
    order = ("laptop", "home", "modem", "access", "operator", "beyond")
    hit = {find_fault(choice.name).segment for choice in spec.faults}
    slow = spec.shaped_down_bps < spec.down_bps or spec.shaped_up_bps < spec.up_bps
    if slow or max(spec.loss_down, spec.loss_up) >= NOTICEABLE_LOSS:
        hit.add("access")
    return next((segment for segment in order if segment in hit), "none")
