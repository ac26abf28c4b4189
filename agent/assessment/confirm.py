"""Whether a missed rate hangs on one measurement, so that a second one is worth making."""

from __future__ import annotations

from agent.assessment.criteria.throughput import SINGLE
from agent.assessment.model import Assessment, Verdict
from agent.measurements import Direction


def would_miss(assessment: Assessment, direction: Direction) -> bool:
    """Tell whether the rate of a direction is soundly missed but for a second measurement.

    A rate that something beside the line limited is not worth a second one.
    """
    name = f"throughput-{direction.value}"
    found = next((c for c in assessment.criteria if c.name == name), None)
    if found is None or found.outcome is not Verdict.BELOW or found.reason is None:
        return False
    return found.reason.code == SINGLE
