"""The German sentences of every area's findings and next steps, put together."""

from __future__ import annotations

from agent.sheet.de import (
    addressing_findings,
    advertised_findings,
    families_findings,
    findings,
    laptop_findings,
    line_findings,
    naming_findings,
    offers_findings,
    reach_findings,
    translation_findings,
    web_findings,
)

# One module for each area of faults; each has FINDING and STEP.
AREAS = (
    findings,
    addressing_findings,
    advertised_findings,
    families_findings,
    laptop_findings,
    line_findings,
    naming_findings,
    offers_findings,
    reach_findings,
    translation_findings,
    web_findings,
)

FINDING: dict[str, str] = {code: said for area in AREAS for code, said in area.FINDING.items()}
STEP: dict[str, tuple[str, str]] = {
    code: said for area in AREAS for code, said in area.STEP.items()
}
