"""From what was asked and observed to the record; the only place that joins the two."""

from __future__ import annotations

import os
import platform
from datetime import UTC, datetime

from agent import __version__
from agent.chain import Conclusion, conclude
from agent.measurements import LaptopCheck, LinkFacts
from agent.record.identifier import new_record_id
from agent.record.model import AgentFacts, Measured, Record, Visit
from agent.session.circumstances import circumstances_of
from agent.session.outcome import Outcome
from agent.session.request import VisitRequest
from agent.session.tier import tier_facts

RECORD_ID_BYTES = 10
SECONDS_PER_MINUTE = 60


def assemble(
    request: VisitRequest, outcome: Outcome, started: datetime, finished: datetime
) -> Record:
    """Return the judged record of a visit; wall times are labels only."""
    conclusion = _conclude(request, outcome)
    offset = started.utcoffset()
    return Record(
        record_id=new_record_id(os.urandom(RECORD_ID_BYTES)),
        started=_utc(started),
        finished=_utc(finished),
        utc_offset_min=int(offset.total_seconds() // SECONDS_PER_MINUTE) if offset else 0,
        agent=AgentFacts(
            version=__version__,
            platform=f"{platform.system()} {platform.release()}",
            python=platform.python_version(),
            device_id=request.device_id,
            laptop_check=_laptop_check(request, outcome),
            unverified_system=_unverified(outcome),
        ),
        visit=_visit(request, outcome),
        private=request.private,
        tier=tier_facts(request.settings, request.tier) if request.tier else None,
        plan=tuple(kind.value for kind in request.plan.steps),
        settings_sha256=request.settings_sha256,
        server=outcome.server,
        conditions=outcome.conditions,
        measured=tuple(
            Measured(measurement=m, statistics=conclusion.statistics.get(m.id))
            for m in outcome.measurements
        ),
        assessment=conclusion.assessment,
        diagnosis=conclusion.diagnosis,
        notes=("cut-short",) if outcome.cut_short else (),
    )


def _conclude(request: VisitRequest, outcome: Outcome) -> Conclusion:
    return conclude(
        outcome.measurements,
        outcome.conditions,
        request.settings,
        request.plan,
        request.tier,
        circumstances_of(request, outcome.interface, outcome.server),
    )


def _laptop_check(request: VisitRequest, outcome: Outcome) -> LaptopCheck | None:
    """Return the laptop's own check of the port as it was now, None without one."""
    ports = [m.observed for m in outcome.measurements if isinstance(m.observed, LinkFacts)]
    return next((c for c in request.laptop_checks for port in ports if c.is_of(port)), None)


def _unverified(outcome: Outcome) -> str | None:
    return next((c.unverified_system for c in outcome.conditions if c.unverified_system), None)


def _visit(request: VisitRequest, outcome: Outcome) -> Visit:
    return Visit(
        purpose=request.purpose.value,
        spot=request.spot,
        plugged_into=request.plugged_into.value,
        access=request.access.value,
        handover=request.handover.value,
        nothing_else_on=request.nothing_else_on,
        previous=request.previous,
        interface=outcome.interface,
        plan=request.plan.name,
        consent=request.consent,
        readings=request.readings,
    )


def _utc(moment: datetime) -> str:
    return moment.astimezone(UTC).isoformat(timespec="milliseconds").replace("+00:00", "Z")
