"""What makes this laptop, or this moment, unfit: facts beyond the thresholds of the settings."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace
from ipaddress import IPv4Network, IPv6Network, ip_address, ip_network

from agent.assessment.adapter import (
    HIDDEN_HOP,
    LAPTOP_CHECK,
    USB_BUS,
    adapter_explains,
    adapter_facts,
)
from agent.assessment.case import Case
from agent.assessment.criteria.loaded import RISES
from agent.assessment.decide import LEASE, THROUGHPUT, group
from agent.assessment.model import Criterion, FitnessFact, Verdict
from agent.measurements import Conditions, Medium, Phase, Reason, Role, Transfer
from agent.settings.model import FitnessRule

_RADIO = (Medium.WIRELESS, Medium.MOBILE)

_TAKEN_FROM_TEST = 2.0
"""Other traffic takes what it carries from the test, and some more by the losses it causes."""

_HARDLY_BUSY = 0.25
"""A process that asks for less of a processor gets it, however busy a fair scheduler is."""

UNVERIFIED = "unverified_system"
"""The one fact under which not even a missing lease is held against the line."""

_PASSING = ("other_traffic", "processor_busy")
_ON_THE_IDLE_LINE = (
    "gateway-delay-median",
    "gateway-delay-p95",
    "first-hop-delay-median",
    "server-delay-median",
    "server-delay-variation",
)
"""Criteria of the idle line are not missed for what was so only while the line was filled."""

_RISES = {name: direction for direction, name in RISES.items()}
_LITTLE_OF_IT = 0.2
"""A laptop that is late to answer is late for its gateway too, by more than this share."""

NO_SAVER = "none"
NO_VERDICT = ("another_line", "tunnel")
"""Facts under which nothing is said of the line, neither good nor bad."""


def fitness_facts(case: Case) -> tuple[FitnessFact, ...]:
    """Return the facts that hold, each once, in the first phase in which it does."""
    found = [fact for reading in case.conditions for fact in _of_reading(case, reading)]
    found += _of_port(case)
    found += adapter_facts(case)
    found += _of_circumstances(case)
    found += _only_noted(case)
    first: dict[str, FitnessFact] = {}
    phases: dict[str, list[str]] = {}
    for fact in found:
        first.setdefault(fact.name, fact)
        phases.setdefault(fact.name, []).append(fact.phase)
    return tuple(
        replace(fact, phases=tuple(dict.fromkeys(phases[name]))) for name, fact in first.items()
    )


def void(case: Case, criterion: Criterion, facts: Iterable[FitnessFact]) -> Criterion:
    """Return a missed criterion as not proven where a fact voids it; a pass stays.

    A fact that cannot account for what is missing voids no rate. On another line or through a
    tunnel no criterion of the line is judged either way. A missing lease stays missing, unless the
    program was never tried on this system: it may have overlooked one.
    """
    facts = tuple(facts)
    if group(criterion.name) == LEASE:
        facts = tuple(f for f in facts if f.name == UNVERIFIED)
    other = next((f for f in facts if f.name in NO_VERDICT), None)
    if other is not None:
        return replace(criterion, outcome=Verdict.NOT_PROVEN, reason=_no_verdict(other))
    if criterion.outcome is not Verdict.BELOW:
        return criterion
    voiding = next(
        (f for f in facts if _voids(f, criterion) and _explains(case, f, criterion)), None
    )
    if voiding is None:
        return criterion
    return replace(criterion, outcome=Verdict.NOT_PROVEN, reason=_unfit(voiding))


def _of_reading(case: Case, reading: Conditions) -> Iterable[FitnessFact]:
    table = case.settings.fitness
    phase = reading.phase.value
    if reading.medium in _RADIO:
        yield _fact("wireless", table.wireless, reading.medium.value, phase)
    if reading.duplex == "half":
        yield _fact("half_duplex", table.half_duplex, reading.duplex, phase)
    if reading.tunnel:
        yield _fact("tunnel", table.tunnel, reading.tunnel, phase)
    if reading.tested_line is False and reading.egress is not None:
        yield _fact("another_line", table.another_line, reading.egress, phase)
    if reading.unverified_system is not None:
        yield _fact(UNVERIFIED, table.unverified_system, reading.unverified_system, phase)
    if reading.on_battery:
        yield _fact("on_battery", table.on_battery, "yes", phase)
    if reading.power_saver not in (None, NO_SAVER):
        yield _fact("power_saver", table.power_saver, reading.power_saver, phase)
    yield from _beyond("other_traffic", table.other_traffic, _traffic(case, reading), phase)
    yield from _beyond("processor_busy", table.processor_busy, reading.cpu_ratio, phase)
    offset = None if reading.clock_offset_ms is None else abs(reading.clock_offset_ms)
    yield from _beyond("clock_offset", table.clock_offset, offset, phase)
    free, low = reading.memory_free_ratio, table.memory_low
    if free is not None and low.threshold is not None and free < low.threshold:
        yield _fact("memory_low", low, free, phase)


def _only_noted(case: Case) -> Iterable[FitnessFact]:
    """Return what the sheet mentions and nobody holds against anything, at the end."""
    for reading in case.conditions:
        if reading.virtual_machine:
            rule = case.settings.fitness.virtual_machine
            yield _fact("virtual_machine", rule, "yes", reading.phase.value)


def _of_port(case: Case) -> Iterable[FitnessFact]:
    """Return what the link measurement adds where the conditions are silent."""
    link = case.evidence.link_statistics()
    table = case.settings.fitness
    if link is None:
        return
    if link.medium in _RADIO:
        yield _fact("wireless", table.wireless, link.medium, "before")
    if link.duplex == "half":
        yield _fact("half_duplex", table.half_duplex, link.duplex, "before")
    if link.medium == Medium.TUNNEL:
        yield _fact("tunnel", table.tunnel, link.medium, "before")


def _of_circumstances(case: Case) -> Iterable[FitnessFact]:
    table = case.settings.fitness
    seen = case.circumstances.seen_address
    if seen is not None and outside(seen, case.settings.line.operator_prefixes):
        yield _fact("another_line", table.another_line, seen, "during")
    stated = case.circumstances.nothing_else_on
    if stated is not True:
        measured = "others-on" if stated is False else "unknown"
        yield _fact("others_on", table.others_on, measured, "during")


def outside(address: str, prefixes: Iterable[str]) -> bool:
    """Tell whether an address lies outside every prefix of its family; False where none is set."""
    try:
        seen = ip_address(address)
    except ValueError:
        return False
    nets = [n for n in map(_network, prefixes) if n is not None and n.version == seen.version]
    return bool(nets) and not any(seen in n for n in nets)


def _network(prefix: str) -> IPv4Network | IPv6Network | None:
    try:
        return ip_network(prefix, strict=False)
    except ValueError:
        return None


def _traffic(case: Case, reading: Conditions) -> float | None:
    """Return other traffic in the unit of its rule: bit/s, or the share of the tier."""
    found = reading.other_traffic_bps
    if found is None or case.settings.fitness.other_traffic.unit != "ratio":
        return found
    return found / case.tier.down_bps if case.tier is not None else None


def _beyond(
    name: str, rule: FitnessRule, measured: float | None, phase: str
) -> Iterable[FitnessFact]:
    if measured is not None and rule.threshold is not None and measured > rule.threshold:
        yield _fact(name, rule, measured, phase)


def _fact(name: str, rule: FitnessRule, measured: float | str | None, phase: str) -> FitnessFact:
    return FitnessFact(
        name=name,
        voids=tuple(rule.voids),
        measured=measured,
        threshold=rule.threshold,
        unit=rule.unit,
        phase=phase,
    )


def _voids(fact: FitnessFact, criterion: Criterion) -> bool:
    return "all" in fact.voids or group(criterion.name) in fact.voids


def _explains(case: Case, fact: FitnessFact, criterion: Criterion) -> bool:
    """Tell whether a fact can account for what was missed.

    A wrong clock spoils secure pages and nothing else. Of other criteria than rates everything
    that voids them is taken to account for it.
    """
    if fact.name == "clock_offset":
        return criterion.name.startswith("web-")
    if fact.name in (USB_BUS, HIDDEN_HOP, LAPTOP_CHECK):
        return adapter_explains(case, fact, criterion)
    if fact.name in _PASSING and criterion.name in _ON_THE_IDLE_LINE:
        return Phase.BEFORE.value in fact.phases and not _even_at_gateway(case, criterion)
    if fact.name == "processor_busy" and criterion.name in _RISES:
        return not _even_at_gateway(case, criterion)
    return group(criterion.name) != THROUGHPUT or _explains_rate(case, fact, criterion)


def _even_at_gateway(case: Case, criterion: Criterion) -> bool:
    """Tell whether the gateway answered at once meanwhile: then the laptop is not what is late."""
    if criterion.measured is None:
        return False
    direction = _RISES.get(criterion.name)
    near = (
        case.evidence.idle_delay(Role.GATEWAY)
        if direction is None
        else case.evidence.loaded_delay(Role.GATEWAY, direction)
    )
    late_ms = near.delay.rtt_ms.p95 if near is not None and near.delay is not None else None
    return late_ms is not None and late_ms < _LITTLE_OF_IT * criterion.measured


def _explains_rate(case: Case, fact: FitnessFact, criterion: Criterion) -> bool:
    if criterion.measured is None or criterion.limit is None:
        return True
    if fact.name == "other_traffic":
        taken = _TAKEN_FROM_TEST * _bits(case, fact)
        return criterion.measured + taken >= criterion.limit
    if fact.name == "processor_busy":
        return _processor_share(case, criterion) >= _HARDLY_BUSY
    return True


def _bits(case: Case, fact: FitnessFact) -> float:
    measured = fact.measured if isinstance(fact.measured, int | float) else 0.0
    share = fact.unit == "ratio" and case.tier is not None
    return measured * case.tier.down_bps if share and case.tier is not None else measured


def _processor_share(case: Case, criterion: Criterion) -> float:
    """Return how much of one processor the transfers took; all of it where that is not known."""
    seen = (i.measurement for i in case.evidence.items if i.id in criterion.measurements)
    told = [m.observed.cpu_ratio for m in seen if isinstance(m.observed, Transfer)]
    return max((1.0 if ratio is None else ratio for ratio in told), default=1.0)


def _unfit(fact: FitnessFact) -> Reason:
    if fact.name == "others_on":
        return Reason(code="others-on" if fact.measured == "others-on" else "others-on-unknown")
    values = {
        "fact": fact.name,
        "measured": fact.measured,
        "threshold": fact.threshold,
        "unit": fact.unit,
    }
    return Reason(code="unfit", values=values)


def _no_verdict(fact: FitnessFact) -> Reason:
    if fact.name == "tunnel":
        return Reason(code="tunnel", values={"tunnel": fact.measured})
    return Reason(code="another-line", values={"seen": fact.measured})
