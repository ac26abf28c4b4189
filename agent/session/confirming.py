"""Whether a direction would be below on one measurement alone; pure."""

from __future__ import annotations

from agent.assessment.model import Assessment, Verdict
from agent.measurements import Direction

SINGLE = "single-measurement"


def would_miss(assessment: Assessment, direction: Direction) -> bool:
    """Tell whether the rate of a direction is soundly missed, but for a second measurement."""
    name = f"throughput-{direction.value}"
    found = next((c for c in assessment.criteria if c.name == name), None)
    if found is None or found.outcome is not Verdict.BELOW or found.reason is None:
        return False
    return found.reason.code == SINGLE
