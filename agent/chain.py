"""The pure chain: measurements and settings to statistics, assessment and diagnosis.

It reads no clock and opens no socket, so it runs again from a stored record at any time.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from agent.assessment.case import Case
from agent.assessment.circumstances import Circumstances
from agent.assessment.evidence import Evidence
from agent.assessment.judge import assess
from agent.assessment.model import Assessment
from agent.assessment.profiles import profiles_of
from agent.diagnosis.diagnose import diagnose
from agent.diagnosis.facts import Facts
from agent.diagnosis.model import Diagnosis
from agent.diagnosis.surroundings import surroundings_of
from agent.measurements import Conditions, Measurement, Statistics
from agent.settings.model import Handover, Plan, Settings, Tier
from agent.stats.figures import Sold, completed
from agent.stats.layers import PPPOE_BYTES
from agent.stats.rises import with_rises
from agent.stats.summary import summarise


@dataclass(frozen=True, slots=True, kw_only=True)
class Conclusion:
    """What follows from a visit's measurements; statistics by measurement id."""

    statistics: Mapping[str, Statistics | None]
    assessment: Assessment
    diagnosis: Diagnosis


def conclude(  # noqa: PLR0917 - the order of the data flow
    measurements: Sequence[Measurement],
    conditions: Sequence[Conditions],
    settings: Settings,
    plan: Plan,
    tier: Tier | None,
    circumstances: Circumstances,
) -> Conclusion:
    """Return statistics, assessment and diagnosis of measurements with distinct ids."""
    case = case_of(measurements, conditions, settings, plan, tier, circumstances)
    assessment = assess(case)
    facts = Facts(
        evidence=case.evidence,
        assessment=assessment,
        circumstances=circumstances,
        around=surroundings_of(case.evidence, circumstances, settings.line),
        activation_hosts=settings.line.activation_hosts,
        profiles=profiles_of(case),
        conditions=case.conditions,
    )
    return Conclusion(
        statistics={item.id: item.statistics for item in case.evidence.items},
        assessment=assessment,
        diagnosis=diagnose(facts),
    )


def case_of(  # noqa: PLR0917 - the order of the data flow
    measurements: Sequence[Measurement],
    conditions: Sequence[Conditions],
    settings: Settings,
    plan: Plan,
    tier: Tier | None,
    circumstances: Circumstances,
) -> Case:
    """Return what is judged: the measurements, which have distinct ids, with their statistics."""
    alone = {m.id: summarise(m) for m in measurements}
    risen = with_rises(measurements, alone)
    statistics = completed(measurements, risen, _sold(tier, circumstances))
    return Case(
        evidence=Evidence.of(measurements, statistics),
        conditions=tuple(conditions),
        settings=settings,
        plan=plan,
        tier=tier,
        circumstances=circumstances,
    )


def _sold(tier: Tier | None, circumstances: Circumstances) -> Sold | None:
    if tier is None:
        return None
    return Sold(
        down_bps=tier.down_bps,
        up_bps=tier.up_bps,
        layer=tier.layer.value,
        wrapping_bytes=PPPOE_BYTES if circumstances.handover is Handover.PPPOE else 0,
    )
