"""The course of a single measurement on the command line."""

from __future__ import annotations

import sys
from dataclasses import replace
from typing import TYPE_CHECKING

from agent.cli import faces, self_check
from agent.cli.asked import Asked
from agent.cli.guard import log_to
from agent.cli.requesting import request_for, settings_for
from agent.cli.visiting import measured
from agent.measurements import State
from agent.session.means import SystemMeans

if TYPE_CHECKING:
    from agent.record.model import Record

MEASURED, NOT_MEASURED = 0, 4


def run(asked: Asked) -> int:
    """Make one measurement, print it, return the exit code."""
    log_to(asked.log)
    if asked.self_check:
        self_check.require_throughput(asked.only or "")
    with SystemMeans.take(want_frames=asked.only == "lease" and not asked.no_probe) as means:
        loaded = settings_for(asked)
        request = request_for(asked, loaded, None)
        request = self_check.with_link(request) if asked.self_check else request
        record = measured(request, means, quiet=False)
    only = _only(record, asked)
    if asked.json:
        sys.stdout.write(faces.measurements_text(only))
    else:
        faces.print_measurements(only)
    if asked.self_check and not self_check.keep(record):
        return NOT_MEASURED
    done = {State.COMPLETE, State.PARTIAL}
    return MEASURED if any(m.measurement.state in done for m in only.measured) else NOT_MEASURED


def _only(record: Record, asked: Asked) -> Record:
    kept = tuple(m for m in record.measured if m.measurement.kind.value == asked.only)
    return replace(record, measured=kept)
