"""The conditions of a visit: readings of the laptop around what is measured."""

from __future__ import annotations

from dataclasses import dataclass

from agent.measurements import Conditions, Measurement, Phase
from agent.probes.conditions import Reading, read_conditions, take_reading
from agent.session.clock_asked import ClockAsked
from agent.session.far_server import FarServer
from agent.session.site import Site


@dataclass(frozen=True, slots=True)
class Mark:
    """A reading of the laptop, with what the visit had moved by then."""

    reading: Reading
    bytes_used: int


class Readings:
    """Takes marks and turns pairs of them into conditions."""

    def __init__(self, site: Site, server: FarServer) -> None:
        self._site = site
        self._server = server
        self.conditions: list[Conditions] = []
        self._clock: ClockAsked | None = None

    def ask_time(self) -> None:
        """Ask a time server how far this clock is off; the next conditions tell the answer."""
        self._clock = ClockAsked(self._site, self._server.address)

    def mark(self) -> Mark:
        """Return a reading of now."""
        name = self._site.ground.interface.name
        reading = take_reading(self._site.workshop.facts, name, self._site.timeline)
        return Mark(reading, self._site.running.bytes_used)

    def note(
        self, phase: Phase, since: Mark | None, transfers: tuple[Measurement, ...] = ()
    ) -> None:
        """Add the conditions from a mark until now; `transfers` filled the line meanwhile."""
        used = self._site.running.bytes_used
        clock, self._clock = self._clock, None
        self.conditions.append(
            read_conditions(
                self._site.workshop.facts,
                phase,
                interface=self._site.ground.interface.name,
                server=self._server.address,
                timeline=self._site.timeline,
                since=since.reading if since else None,
                own_bytes=used - since.bytes_used if since else 0,
                transfers=transfers,
                clock=clock.told() if clock else None,
            )
        )
