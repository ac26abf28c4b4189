"""The catalogue of faults: what each does to the line, the services and the network, and where.

A fault is data. `Effect` says what one severity changes in the line's specification and which
services stay silent; `strike` names a function of `agent.practice.strikes` that acts on the built
network after the laptop has its lease.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace

from agent.errors import UsageError
from agent.practice.line import FaultChoice, LineSpec, Severity

DHCP = "dhcp"
RESOLVER = "resolver"
SERVER = "server"
NOTICEABLE_LOSS = 0.005
"""Ratio each way; common practice, no source: half of the 1 % that spoils calls."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Effect:
    """What a fault does at one severity; `tier_share` is the rate as a share of the tier."""

    tier_share: float | None = None
    loss: float | None = None
    silent: frozenset[str] = frozenset()
    strike: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Fault:
    """A fault with its true segment and one sentence for the list."""

    name: str
    segment: str
    sentence: str
    effects: Mapping[Severity, Effect] = field(repr=False)


def _always(effect: Effect) -> dict[Severity, Effect]:
    return dict.fromkeys(Severity, effect)


def _each(light: Effect, medium: Effect, severe: Effect) -> dict[Severity, Effect]:
    return {Severity.LIGHT: light, Severity.MEDIUM: medium, Severity.SEVERE: severe}


CATALOGUE: tuple[Fault, ...] = (
    Fault(
        name="slow-line",
        segment="access",
        sentence="The access line carries only a part of the tier, both ways.",
        effects=_each(Effect(tier_share=0.7), Effect(tier_share=0.5), Effect(tier_share=0.3)),
    ),
    Fault(
        name="lossy-line",
        segment="access",
        sentence="The access line loses packets, both ways alike.",
        effects=_each(Effect(loss=0.005), Effect(loss=0.02), Effect(loss=0.05)),
    ),
    Fault(
        name="modem-dead",
        segment="modem",
        sentence="The modem keeps its ports up, passes nothing and does not answer.",
        effects=_always(Effect(strike="modem_dead")),
    ),
    Fault(
        name="no-lease",
        segment="home",
        sentence="The home router hands out no addresses.",
        effects=_always(Effect(silent=frozenset({DHCP}))),
    ),
    Fault(
        name="dead-dns",
        segment="operator",
        sentence="The operator's resolver does not answer.",
        effects=_always(Effect(silent=frozenset({RESOLVER}))),
    ),
    Fault(
        name="gateway-dead",
        segment="home",
        sentence="The home router stops answering after it has given a lease; its ports stay up.",
        effects=_always(Effect(strike="gateway_dead")),
    ),
    Fault(
        name="server-down",
        segment="operator",
        sentence="The operator's measuring server is not running.",
        effects=_always(Effect(silent=frozenset({SERVER}))),
    ),
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
    """Return the line as its faults leave it."""
    for effect in map(effect_of, spec.faults):
        if effect.tier_share is not None:
            share = effect.tier_share
            spec = replace(spec, provisioned=share, line_down_bps=None, line_up_bps=None)
        if effect.loss is not None:
            spec = replace(spec, loss_down=effect.loss, loss_up=effect.loss)
    return spec


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
