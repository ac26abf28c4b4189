"""What every step of a visit works with."""

from __future__ import annotations

from dataclasses import dataclass

from agent.clock import Timeline
from agent.ports.http import HttpPort
from agent.ports.names import NamesPort
from agent.session.ground import Ground
from agent.session.request import VisitRequest
from agent.session.running import VisitRunning
from agent.session.workshop import Workshop


@dataclass(frozen=True, slots=True, kw_only=True)
class Site:
    """The request, the means, the port stood on, the time and the stop flag of one visit."""

    request: VisitRequest
    workshop: Workshop
    ground: Ground
    names: NamesPort
    http: HttpPort
    timeline: Timeline
    running: VisitRunning
