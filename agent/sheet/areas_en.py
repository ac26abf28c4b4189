"""The English sentences of every area's findings and next steps, put together."""

from __future__ import annotations

from collections.abc import Callable

from agent.record import Scalar
from agent.sheet import (
    addressing_findings_en,
    advertised_findings_en,
    families_findings_en,
    findings_en,
    laptop_findings_en,
    line_findings_en,
    naming_findings_en,
    offers_findings_en,
    reach_findings_en,
    translation_findings_en,
    web_findings_en,
)

# One module for each area of faults; each has FINDING and STEP, and may have SAID: how values of a
# name are worded that are not printed as they are; and NOTES: findings that leave nothing to do.
AREAS = (
    findings_en,
    addressing_findings_en,
    advertised_findings_en,
    families_findings_en,
    laptop_findings_en,
    line_findings_en,
    naming_findings_en,
    offers_findings_en,
    reach_findings_en,
    translation_findings_en,
    web_findings_en,
)

FINDING: dict[str, str] = {code: said for area in AREAS for code, said in area.FINDING.items()}
STEP: dict[str, tuple[str, str]] = {
    code: said for area in AREAS for code, said in area.STEP.items()
}
SAID: dict[str, Callable[[Scalar], Scalar]] = {
    name: say for area in AREAS for name, say in getattr(area, "SAID", {}).items()
}
NOTES = frozenset().union(*(getattr(area, "NOTES", ()) for area in AREAS))
