"""What a visit brings home before it is judged: measurements, conditions, the server's words."""

from __future__ import annotations

from dataclasses import dataclass

from agent.measurements import Conditions, Measurement
from agent.record.model import ServerFacts


@dataclass(frozen=True, slots=True, kw_only=True)
class Outcome:
    """Everything observed; times are seconds from the start of the visit."""

    measurements: tuple[Measurement, ...]
    conditions: tuple[Conditions, ...]
    server: ServerFacts | None
    interface: str | None
    bytes_used: int
    cut_short: bool
