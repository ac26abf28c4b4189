"""Filling the line: each direction alone, timed from beside, once more where it would be below."""

from __future__ import annotations

from agent.assessment.confirm import would_miss
from agent.chain import conclude
from agent.errors import DoorstepError
from agent.measurements import (
    Direction,
    Kind,
    Measurement,
    Phase,
    Reason,
    Role,
    Transfer,
)
from agent.session.beside import Begun, Beside
from agent.session.circumstances import circumstances_of
from agent.session.far_server import FarServer
from agent.session.filling import expected_s, fill_step
from agent.session.readings import Readings
from agent.session.site import Site
from agent.session.steps import Conductor, busy_s, failed, numbered, skipped, told_waited

DIRECTIONS = (Direction.DOWN, Direction.UP)

SETTLING_S = 1.0
"""Between a transfer and its repetition: queues drain, and the server's turn is seen to end."""


class LineFiller:
    """Runs the transfers of one visit; `beside` is None where delay is not asked for."""

    def __init__(
        self,
        site: Site,
        conductor: Conductor,
        server: FarServer,
        readings: Readings,
        beside: Beside | None,
    ) -> None:
        self._site = site
        self._conductor = conductor
        self._server = server
        self._readings = readings
        self._beside = beside
        self._begun: list[tuple[Begun | Reason, Measurement]] = []

    def fill(self) -> None:
        """Fill both directions, then again those that would be below, and take everything in."""
        expected = expected_s(self._site)
        for place, direction in enumerate(DIRECTIONS, start=1):
            self._conductor.later_s = expected * (len(DIRECTIONS) - place)
            self._once(direction)
        self._conductor.later_s = 0.0
        self._take_in_series()
        for direction in self._doubtful():
            self._conductor.pause(SETTLING_S)
            self._again(direction)
        self._take_in_series()

    def _again(self, direction: Direction) -> None:
        url = self._server.urls().get(direction)
        if url is None or self._conductor.running.stopped() or not self._affords(direction):
            return
        self._conductor.add(self._carried(direction, url))

    def _affords(self, direction: Direction) -> bool:
        """Tell whether the visit's data cap leaves as much as the direction took before."""
        most, used = self._site.request.max_bytes, self._conductor.running.bytes_used
        moved = (m.observed for m in self._conductor.measurements if m.direction is direction)
        taken = max((sum(m.slice_bytes) for m in moved if isinstance(m, Transfer)), default=0)
        return most is None or used + taken <= most

    def _once(self, direction: Direction) -> None:
        if self._conductor.running.stopped():
            at_s = self._site.timeline.now_s()
            reason = Reason(code="interrupted")
            self._conductor.add(skipped(Kind.THROUGHPUT, Role.SERVER, reason, at_s, direction))
            return
        url = self._server.urls().get(direction)
        if url is None:
            at_s, reason = self._site.timeline.now_s(), self._server.reason()
            self._conductor.add(failed(Kind.THROUGHPUT, Role.SERVER, reason, at_s, direction))
            return
        self._conductor.add(self._carried(direction, url))

    def _carried(self, direction: Direction, url: str) -> Measurement:
        """Return the transfer, begun anew while the server asks to wait and the visit will."""
        while True:
            begun = self._beside.begin(direction) if self._beside else None
            mark = self._readings.mark()
            limits = self._server.card.limits if self._server.card else None
            (moved,) = self._conductor.run(fill_step(self._site, direction, url, limits))
            if begun is not None:
                self._begun.append((_ended(begun), moved))
            wait_s = busy_s(moved.reason)
            if wait_s is None or not self._conductor.wait_for_server(wait_s):
                self._readings.note(Phase.DURING, mark, (moved,))
                return moved if wait_s is None else told_waited(moved, self._conductor.waited_s)

    def _take_in_series(self) -> None:
        for begun, moved in self._begun:
            if self._beside is not None:
                self._conductor.add(*self._beside.results(begun, moved))
        self._begun.clear()

    def _doubtful(self) -> tuple[Direction, ...]:
        """Return the directions whose rate a second measurement would show to be below."""
        if self._conductor.running.stopped() or self._site.request.tier is None:
            return ()
        request = self._site.request
        assessment = conclude(
            numbered(self._conductor.measurements),
            self._readings.conditions,
            request.settings,
            request.plan,
            request.tier,
            circumstances_of(request, self._site.ground.interface.name, self._server.facts()),
        ).assessment
        return tuple(way for way in DIRECTIONS if would_miss(assessment, way))


def _ended(begun: Begun | Reason) -> Begun | Reason:
    """Tell the series to end; where that fails, the reason stands for them."""
    if isinstance(begun, Reason):
        return begun
    try:
        begun.end()
    except DoorstepError as error:
        return Reason.of(error)
    return begun
