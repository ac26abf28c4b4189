"""Facts of fitness about the laptop's adapter and the way to the gateway."""

from __future__ import annotations

from collections.abc import Iterator

from agent.assessment.case import Case
from agent.assessment.evidence import Item
from agent.assessment.model import Criterion, FitnessFact
from agent.assessment.target import target_of
from agent.measurements import (
    DelayStatistics,
    Direction,
    Kind,
    LaptopCheck,
    LinkFacts,
    Medium,
    Role,
)
from agent.settings.model import FitnessRule, PluggedInto
from agent.stats.address_ranges import of_a_home
from agent.stats.same_loss import Losses, chance_of_same

USB_BUS, HIDDEN_HOP, LAPTOP_CHECK = "usb_bus", "hidden_hop", "laptop_check"

WAYS = {f"throughput-{way.value}": way for way in (Direction.DOWN, Direction.UP)}

_FARTHER = (Role.MODEM, Role.FIRST_HOP, Role.SERVER, Role.OUTSIDE)
_BEHIND_ROUTER = (PluggedInto.ROUTER, PluggedInto.MESH)
_LEAST_LOST = 2
"""One lost probe of hundreds is chance, or a gateway that drops its own answer."""

_TRACE, _BEFORE, _EVEN = 0.001, 0.3, 0.5
"""As for the place of loss: what is left unmentioned, how often it begins in the home."""


def adapter_facts(case: Case) -> Iterator[FitnessFact]:
    """Yield what adapter, bus and the way to the gateway hold against this laptop."""
    link = link_of(case)
    if link is None:
        return
    table = case.settings.fitness
    for name in WAYS:
        needed = _needed_bps(case, name)
        if needed is None:
            continue
        if needed > bus_carries_bps(link, table.usb_bus):
            yield _fact(USB_BUS, table.usb_bus, link.bus_bps, needed, "bps")
        carried = _check_carries_bps(case, name)
        if carried is not None and needed > carried:
            yield _fact(LAPTOP_CHECK, table.laptop_check, carried, needed, "bps")
    yield from _hidden_hop(case, link)


def link_of(case: Case) -> LinkFacts | None:
    """Return what was read of the port under test."""
    item = case.evidence.first(Kind.LINK)
    seen = item.measurement.observed if item else None
    return seen if isinstance(seen, LinkFacts) else None


def adapter_explains(case: Case, fact: FitnessFact, criterion: Criterion) -> bool:
    """Tell whether a fact of this module can account for a missed criterion.

    What stands between laptop and gateway is what the gateway's own criteria are about: they stay.
    """
    if fact.name == HIDDEN_HOP:
        return not criterion.name.startswith("gateway-")
    link, limit = link_of(case), criterion.limit
    if link is None or limit is None:
        return False
    if fact.name == USB_BUS:
        return limit > bus_carries_bps(link, case.settings.fitness.usb_bus)
    carried = _check_carries_bps(case, criterion.name)
    return carried is not None and limit > carried


def bus_carries_bps(link: LinkFacts, rule: FitnessRule) -> float:
    """Return what is counted on from the adapter's bus, without end where it hangs on none."""
    if link.bus_bps is None or rule.threshold is None:
        return float("inf")
    return link.bus_bps * rule.threshold


def check_in_force(case: Case) -> LaptopCheck | None:
    """Return the laptop's own check where it speaks of the port as it is now."""
    check, link = case.circumstances.laptop_check, link_of(case)
    return check if check is not None and link is not None and check.is_of(link) else None


def _check_carries_bps(case: Case, name: str) -> float | None:
    check = check_in_force(case)
    if check is None:
        return None
    carried = check.down_bps if WAYS[name] is Direction.DOWN else check.up_bps
    share = case.settings.fitness.laptop_check.threshold
    return None if carried is None or share is None else carried * share


def _needed_bps(case: Case, name: str) -> float | None:
    direction = WAYS[name]
    item = case.evidence.first(Kind.THROUGHPUT, direction=direction)
    target = target_of(case, item, direction)
    return target.limit_bps if target else None


def _hidden_hop(case: Case, link: LinkFacts) -> Iterator[FitnessFact]:
    rule, item = case.settings.fitness.hidden_hop, case.evidence.idle_delay(Role.GATEWAY)
    near = item.delay if item else None
    if (
        item is None
        or near is None
        or link.medium != Medium.WIRED
        or not is_of_the_home(case, item)
    ):
        return
    beyond = [
        found.delay
        for role in _FARTHER
        if (found := case.evidence.idle_delay(role)) and found.delay and found.delay.received
    ]
    late_ms = _late_ms(near, beyond, rule.threshold)
    if late_ms is not None:
        yield _fact(HIDDEN_HOP, rule, late_ms, rule.threshold, "ms")
    elif near.received and beyond and all(_loses_alike(near, far) for far in beyond):
        yield _fact(HIDDEN_HOP, rule, near.loss_ratio, 0.0, "ratio")


def _late_ms(
    near: DelayStatistics, beyond: list[DelayStatistics], limit_ms: float | None
) -> float | None:
    """Return how late the gateway answers where that is the way, and not the gateway's leisure.

    A gateway may answer late and forward at once: then somebody beyond it is sooner, by more than
    chance makes of equals.
    """
    late_ms = near.rtt_ms.p95
    if late_ms is None or limit_ms is None or (near.p95_low_ms or late_ms) <= limit_ms:
        return None
    least_ms = near.p95_low_ms or late_ms
    latest = (far.p95_high_ms or far.rtt_ms.p95 for far in beyond)
    return None if any(ms is not None and ms < least_ms for ms in latest) else late_ms


def _loses_alike(near: DelayStatistics, far: DelayStatistics) -> bool:
    """Tell whether what is lost on the way to a far end is lost before the gateway already."""
    if near.sent - near.received < _LEAST_LOST or far.sent == far.received:
        return False
    own, other = Losses.of_series(near), Losses.of_series(far)
    return chance_of_same(own, other, trace=_TRACE, before=_BEFORE) > _EVEN


def is_of_the_home(case: Case, item: Item) -> bool:
    """Tell whether the gateway is one of the home's: a modem that bridges has none there."""
    if case.circumstances.plugged_into in _BEHIND_ROUTER:
        return True
    return of_a_home((item.measurement.address or "").partition("%")[0])


def _fact(
    name: str, rule: FitnessRule, measured: float | None, threshold: float | None, unit: str
) -> FitnessFact:
    return FitnessFact(
        name=name,
        voids=tuple(rule.voids),
        measured=measured,
        threshold=threshold,
        unit=unit,
        phase="before",
    )
