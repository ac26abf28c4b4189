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
    faults_line,
    faults_modem,
    faults_more,
    faults_more_home,
    faults_naming,
    faults_offers,
    faults_operator,
    faults_reach,
    faults_web,
)
from agent.practice.beyond import HOPS_OF_A_DETOUR
from agent.practice.fault import Effect, Fault
from agent.practice.homes import HOMES
from agent.practice.line import FaultChoice, LineSpec
from agent.practice.needs import require_home
from agent.practice.path import NarrowLink
from agent.practice.products import lower

NOTICEABLE_LOSS = 0.005
"""Ratio each way; common practice, no source: half of the 1 % that spoils calls."""

FIRST_CORE = 2
"""The distance of the first core router from the home's last."""


CATALOGUE: tuple[Fault, ...] = (
    *faults_line.FAULTS,
    *faults_operator.FAULTS,
    *faults_address.FAULTS,
    *faults_advertised.FAULTS,
    *faults_families.FAULTS,
    *faults_home.FAULTS,
    *faults_laptop.FAULTS,
    *faults_modem.FAULTS,
    *faults_more.FAULTS,
    *faults_more_home.FAULTS,
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
    """Return the line as its faults leave it, in the home that they need. Raises UsageError."""
    for effect in map(effect_of, spec.faults):
        spec = _with_rate(spec, effect)
        if effect.handover is not None:
            spec = replace(spec, handover=effect.handover)
        if effect.loss is not None:
            spec = replace(spec, loss_down=effect.loss, loss_up=effect.loss)
        if effect.home is not None:
            spec = replace(spec, home=effect.home)
        beyond = replace(spec.beyond, **effect.beyond)
        spec = replace(spec, beyond=beyond, **effect.line)
        if beyond.detour_ms:
            spec = replace(spec, hops=max(spec.hops, HOPS_OF_A_DETOUR))
    chosen = ((find_fault(choice.name), effect_of(choice)) for choice in spec.faults)
    require_home(spec.home, chosen)
    return _with_hole(spec).at_home()


def _with_hole(spec: LineSpec) -> LineSpec:
    """Narrow the link behind the edge, which is as far away as the home has routers."""
    if spec.beyond.hole_mtu_bytes is None:
        return spec
    at = HOMES[spec.home].routers + FIRST_CORE
    hole = NarrowLink(at=at, mtu_bytes=spec.beyond.hole_mtu_bytes, swallowed=True)
    return replace(spec, path=replace(spec.path, narrow=hole))


def _with_rate(spec: LineSpec, effect: Effect) -> LineSpec:
    if effect.tier_share is not None:
        spec = replace(spec, provisioned=effect.tier_share, line_down_bps=None, line_up_bps=None)
    if effect.up_share is not None:
        spec = replace(spec, line_up_bps=round(effect.up_share * spec.up_bps))
    if not effect.profile_steps:
        return spec
    other = lower(spec.products, effect.profile_steps)
    if other is None:
        raise UsageError(
            problem=f"The catalogue has no product below {spec.tier}.",
            remedy="Choose a larger tier, or settings with a smaller one.",
        )
    return replace(spec, line_down_bps=other.down_bps, line_up_bps=other.up_bps)


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
    """Return where the fault of a line as it was ordered is, "none" without one.

    Of several it is the one nearest to the laptop. A line ordered slower than its tier, or with
    noticeable loss, is a fault of the access line.
    """
    order = ("laptop", "home", "modem", "access", "operator", "beyond")
    hit = {find_fault(choice.name).segment for choice in spec.faults}
    slow = spec.shaped_down_bps < spec.down_bps or spec.shaped_up_bps < spec.up_bps
    if slow or max(spec.loss_down, spec.loss_up) >= NOTICEABLE_LOSS:
        hit.add("access")
    return next((segment for segment in order if segment in hit), "none")
