"""The laptop itself, its adapter, and the way to the gateway: what keeps it from judging a line.

Each is a fact of fitness that holds; what it does to the verdict the assessment has decided. One
for which a rate was not counted is named with that rate, and not again. A busy processor is blamed
only where something was missed for it: a program that asks for little gets it.
"""

from __future__ import annotations

from collections.abc import Callable

from agent.assessment.model import FitnessFact, Verdict
from agent.diagnosis import rate, web
from agent.diagnosis.facts import Facts
from agent.diagnosis.groups import BEFORE_GATEWAY, RATES
from agent.diagnosis.model import Segment
from agent.diagnosis.needs import TO_GATEWAY, noted
from agent.diagnosis.rule import Match, Rule
from agent.measurements import Kind, Phase, Role, Scalar
from agent.units import MS_PER_S

_SHARE_OF_TEST = 0.05

_MEASURED_AS = {"bps": "_bps", "ms": "_ms", "ratio": "_ratio"}


def _on(name: str) -> Callable[[Facts], Match | None]:
    """Return the test whether a fact of fitness holds that no missed rate has named already."""
    return lambda facts: _at_port(facts, _unnamed(facts, name))


def _at_port(facts: Facts, fact: FitnessFact | None) -> Match | None:
    """Return the match of a fact that holds; the port's reading stands for it."""
    if fact is None:
        return None
    item = facts.evidence.first(Kind.LINK)
    return Match(evidence=(item.id,) if item else (), values=_values(fact))


def clock_off(facts: Facts) -> Match | None:
    """A time server says that the laptop's clock is off, and no sites agree that it is."""
    fact = facts.fitness("clock_offset")
    if fact is None or not isinstance(fact.measured, int | float):
        return None
    if web.clock_wrong(facts) is not None:
        return None
    return Match(values={"apart_s": fact.measured / MS_PER_S})


def processor_busy(facts: Facts) -> Match | None:
    """The processor was busy, and something that decides the verdict was missed for it."""
    fact = _unnamed(facts, "processor_busy")
    if fact is None:
        return None
    missed = [
        c
        for c in facts.assessment.criteria
        if c.needed and c.reason is not None and c.reason.values.get("fact") == fact.name
    ]
    ids = tuple(dict.fromkeys(i for c in missed for i in c.measurements))
    return Match(evidence=ids, values=_values(fact)) if missed else None


def hidden_hop(facts: Facts) -> Match | None:
    """Wired, and yet late or lossy before the gateway; loss alone has a finding of its own."""
    fact = _unnamed(facts, "hidden_hop")
    if fact is None or fact.unit != "ms":
        return None
    item = facts.series(Role.GATEWAY)
    return Match(evidence=(item.id,) if item else (), values=_values(fact))


def on_wireless(facts: Facts) -> Match | None:
    """The laptop is on the air: whatever is late, lost or slow before the gateway may be that."""
    return _at_port(facts, facts.fitness("wireless"))


def bus_below_tier(facts: Facts) -> Match | None:
    """The adapter hangs on a bus that does not carry the tier, and no rate was seen to be kept."""
    rates = facts.criteria(*rate.RATES_JUDGED)
    kept = bool(rates) and all(c.outcome is Verdict.MEETS for c in rates)
    return None if kept else _at_port(facts, facts.fitness("usb_bus"))


def other_traffic(facts: Facts) -> Match | None:
    """Another program uses the port: while the line is idle, or as more than a share of the test.

    What a test receives twice, as after a long queue, looks like little traffic of others.
    """
    fact = _unnamed(facts, "other_traffic")
    return None if fact is None or not _is_much(facts, fact) else _at_port(facts, fact)


def _is_much(facts: Facts, fact: FitnessFact) -> bool:
    if fact.unit != "bps" or not isinstance(fact.measured, int | float):
        return True
    if set(fact.phases) - {Phase.DURING.value}:
        return True
    rates = [c.measured for c in facts.criteria(*rate.RATES_JUDGED) if c.measured is not None]
    return fact.measured > _SHARE_OF_TEST * max(rates, default=0.0)


def _unnamed(facts: Facts, name: str) -> FitnessFact | None:
    """Return a fact that holds and that no missed rate has named already."""
    return None if rate.blamed(facts) == name else facts.fitness(name)


def _values(fact: FitnessFact) -> dict[str, Scalar]:
    ending = _MEASURED_AS.get(fact.unit, "")
    values: dict[str, Scalar] = {f"measured{ending}": fact.measured}
    if fact.threshold is not None:
        values[f"limit{ending}"] = fact.threshold
    return values


USB_BUS_BELOW_TIER = Rule(
    code="usb-bus-below-tier",
    segment=Segment.LAPTOP,
    confidence=0.85,
    next_step="change-adapter",
    test=bus_below_tier,
    needs=(noted("usb_bus"),),
    hides=RATES,
)
ON_WIRELESS = Rule(
    code="laptop-on-wireless",
    segment=Segment.HOME,
    confidence=0.9,
    next_step="plug-in-cable",
    test=on_wireless,
    needs=(noted("wireless"),),
    hides=BEFORE_GATEWAY,
)
RULES: tuple[Rule, ...] = (
    Rule(
        code="hidden-hop",
        segment=Segment.HOME,
        confidence=0.8,
        next_step="plug-into-router",
        test=hidden_hop,
        needs=(TO_GATEWAY, noted("hidden_hop")),
        hides=frozenset({"delay-high"}),
    ),
    Rule(
        code="laptop-clock-off",
        segment=Segment.LAPTOP,
        confidence=0.9,
        next_step="set-clock",
        test=clock_off,
        needs=(noted("clock_offset"),),
    ),
    Rule(
        code="laptop-check-below-tier",
        segment=Segment.LAPTOP,
        confidence=0.85,
        next_step="use-stronger-laptop",
        test=_on("laptop_check"),
        needs=(noted("laptop_check"),),
    ),
    Rule(
        code="laptop-saves-power",
        segment=Segment.LAPTOP,
        confidence=0.75,
        next_step="switch-saver-off",
        test=_on("power_saver"),
        needs=(noted("power_saver"),),
    ),
    Rule(
        code="laptop-memory-low",
        segment=Segment.LAPTOP,
        confidence=0.75,
        next_step="free-memory",
        test=_on("memory_low"),
        needs=(noted("memory_low"),),
    ),
    Rule(
        code="laptop-busy",
        segment=Segment.LAPTOP,
        confidence=0.75,
        next_step="free-the-laptop",
        test=processor_busy,
        needs=(noted("processor_busy"),),
    ),
    Rule(
        code="laptop-has-other-traffic",
        segment=Segment.LAPTOP,
        confidence=0.8,
        next_step="stop-other-programs",
        test=other_traffic,
        needs=(noted("other_traffic"),),
    ),
)
