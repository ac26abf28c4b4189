"""The English sentences of every area's findings and next steps, put together."""

from __future__ import annotations

from agent.sheet import families_findings_en, findings_en, offers_findings_en

# One module for each area of faults; each has FINDING and STEP.
AREAS = (families_findings_en, findings_en, offers_findings_en)

FINDING: dict[str, str] = {code: said for area in AREAS for code, said in area.FINDING.items()}
STEP: dict[str, tuple[str, str]] = {
    code: said for area in AREAS for code, said in area.STEP.items()
}
