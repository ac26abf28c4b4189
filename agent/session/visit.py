"""One visit: every measurement of the plan in an order that keeps them from disturbing each other.

First what hardly loads the line, side by side; then the delay series on the idle line; then, with
consent and alone, each direction filled.
"""

from __future__ import annotations

import logging
from dataclasses import dataclass

from agent.clock import Clock, Timeline
from agent.codec.card import Card
from agent.errors import CannotMeasure, DoorstepError
from agent.measurements import (
    Conditions,
    Direction,
    HopWalk,
    Kind,
    PathStatistics,
    Phase,
    Reason,
    Role,
)
from agent.probes.conditions import Reading, read_conditions, take_reading
from agent.probes.link import measure_link
from agent.probes.server import read_card, transfer_urls
from agent.record.model import ServerFacts
from agent.session.filling import fill_step
from agent.session.ground import Ground, stand_on
from agent.session.looks import IPV4, dns_step, lease_step, path_step, web_step
from agent.session.outcome import Outcome
from agent.session.request import VisitRequest, Watcher
from agent.session.running import VisitRunning
from agent.session.series import ECHO, echo_step, stamp_step
from agent.session.site import Site
from agent.session.steps import Conductor, Step, failed, numbered, skipped
from agent.session.targets import EchoTarget, first_hop, server_host
from agent.session.workshop import Workshop
from agent.stats.path import path_statistics

CARD_WITHIN_S = 5.0
LOOKUP_WITHIN_S = 4.0

ROLES = {
    Kind.LINK: Role.LOCAL,
    Kind.LEASE: Role.LOCAL,
    Kind.DNS: Role.RESOLVER,
    Kind.DELAY: Role.SERVER,
    Kind.PATH: Role.SERVER,
    Kind.HTTP: Role.OUTSIDE,
    Kind.THROUGHPUT: Role.SERVER,
}

BEYOND = (Kind.DNS, Kind.DELAY, Kind.PATH, Kind.HTTP, Kind.THROUGHPUT)

_log = logging.getLogger("doorstep")


def observe(
    request: VisitRequest,
    workshop: Workshop,
    clock: Clock,
    running: VisitRunning,
    watcher: Watcher,
) -> Outcome:
    """Run the plan and return what was observed, complete or not; never raises CannotMeasure."""
    timeline = Timeline.begin(clock)
    conductor = Conductor(timeline, running, watcher)
    return _Visit(request, workshop, conductor).run()


@dataclass(frozen=True, slots=True)
class _Mark:
    """A reading of the laptop, with what the visit had moved by then."""

    reading: Reading
    bytes_used: int


class _Visit:
    """The course of one visit over a conductor."""

    def __init__(self, request: VisitRequest, workshop: Workshop, conductor: Conductor) -> None:
        self.request = request
        self.workshop = workshop
        self.conductor = conductor
        self.timeline = conductor.timeline
        self.conditions: list[Conditions] = []
        self.card: Card | None = None
        self.server_error: CannotMeasure | DoorstepError | None = None
        self.server_address: str | None = None

    def run(self) -> Outcome:
        for kind in Kind:
            if not self.request.wants(kind):
                self._leave_out(kind)
        interface: str | None = None
        try:
            ground = stand_on(self.workshop.facts, self.request.interface)
            interface = ground.interface.name
            self._stand(ground)
        except CannotMeasure as error:
            self._fail_rest(Reason.of(error), tuple(Kind))
        return Outcome(
            measurements=numbered(self.conductor.measurements),
            conditions=tuple(self.conditions),
            server=self._server_facts(),
            interface=interface or self.request.interface,
            bytes_used=self.conductor.running.bytes_used,
            cut_short=self.conductor.running.stopped(),
        )

    def _stand(self, ground: Ground) -> None:
        names = self.workshop.names(ground.binding, ground.resolvers)
        site = Site(
            request=self.request,
            workshop=self.workshop,
            ground=ground,
            names=names,
            http=self.workshop.http(ground.binding, names),
            timeline=self.timeline,
            running=self.conductor.running,
        )
        self.conductor.later_s = self._time_for(Kind.DELAY) + self._time_for(Kind.THROUGHPUT)
        if self.request.wants(Kind.LINK):
            self.conductor.add(
                measure_link(self.workshop.facts, ground.interface.name, self.timeline)
            )
        self._begin(Kind.LEASE, lease_step(site))
        try:
            ground.require_address()
        except CannotMeasure as error:
            self._fail_rest(Reason.of(error), BEYOND)
        else:
            self._measure_through(site)
        self.conductor.later_s = 0.0
        self.conductor.finish()

    def _measure_through(self, site: Site) -> None:
        began = self._reading(site)
        self._meet_server(site)
        path = self._look(site)
        self._time(site, path)
        self.conductor.finish(Kind.LEASE)
        self._note(site, Phase.BEFORE, began)
        filling = self._reading(site)
        self._fill(site)
        self._note(site, Phase.DURING, filling)
        self._note(site, Phase.AFTER, None)

    def _meet_server(self, site: Site) -> None:
        for resolver in site.ground.resolvers:
            self._begin(Kind.DNS, dns_step(site, resolver))
        for target in self.request.settings.targets.web:
            self._begin(Kind.HTTP, web_step(site, target))
        self._read_card(site)
        self.server_address = self._server_address(site)

    def _read_card(self, site: Site) -> None:
        if self.request.server_url is None:
            return
        try:
            self.card = read_card(
                site.http,
                self.request.server_url,
                self.request.token,
                within_s=CARD_WITHIN_S,
            )
        except DoorstepError as error:
            _log.info("no card: %s", error)
            self.server_error = error

    def _server_address(self, site: Site) -> str | None:
        host = server_host(self.request.server_url, self.request.settings.server)
        if host is None:
            return None
        try:
            return site.names.resolve(host, IPV4, LOOKUP_WITHIN_S)[0]
        except CannotMeasure as error:
            self.server_error = self.server_error or error
            return None

    def _look(self, site: Site) -> PathStatistics | None:
        if self.server_address is not None:
            self._begin(Kind.PATH, path_step(site, self.server_address))
        elif self.request.wants(Kind.PATH):
            self._fail_rest(self._no_server(), (Kind.PATH,))
        self._without_target(site)
        for one in self.conductor.finish(Kind.DNS, Kind.HTTP, Kind.PATH):
            if isinstance(one.observed, HopWalk):
                return path_statistics(one.observed)
        return None

    def _without_target(self, site: Site) -> None:
        if self.request.wants(Kind.DNS) and not site.ground.resolvers:
            self._fail_rest(Reason(code="no-resolver"), (Kind.DNS,))
        if self.request.wants(Kind.HTTP) and not self.request.settings.targets.web:
            self._fail_rest(Reason(code="no-target"), (Kind.HTTP,))

    def _time(self, site: Site, path: PathStatistics | None) -> None:
        self.conductor.later_s = self._time_for(Kind.THROUGHPUT)
        if not self.request.wants(Kind.DELAY):
            return
        for target in self._near_targets(site, path):
            self._begin(Kind.DELAY, echo_step(site, target))
        self._time_server(site)
        self.conductor.finish(Kind.DELAY)

    def _time_server(self, site: Site) -> None:
        if self.server_address is None:
            self._fail_rest(self._no_server(), (Kind.DELAY,))
        elif self.card is not None and self.card.endpoints.reflector is not None:
            self._begin(Kind.DELAY, stamp_step(site, self.card, self.server_address))
        else:
            target = EchoTarget(role=Role.SERVER, address=self.server_address, method=ECHO)
            self._begin(Kind.DELAY, echo_step(site, target))

    def _near_targets(self, site: Site, path: PathStatistics | None) -> list[EchoTarget]:
        hop = first_hop(path, site.ground.gateway, self.request.plugged_into) if path else None
        near = (
            (Role.GATEWAY, site.ground.gateway),
            (Role.MODEM, self.request.settings.line.modem_address),
            (Role.FIRST_HOP, hop),
        )
        return [EchoTarget(role=r, address=a, method=ECHO) for r, a in near if a is not None]

    def _fill(self, site: Site) -> None:
        self.conductor.later_s = self._time_for(Kind.THROUGHPUT) / 2
        urls = self._transfer_urls()
        limits = self.card.limits if self.card else None
        for direction in (Direction.DOWN, Direction.UP):
            if not self.request.wants(Kind.THROUGHPUT):
                return
            url = urls.get(direction)
            if url is None:
                at_s, reason = self.timeline.now_s(), self._no_server()
                self.conductor.add(failed(Kind.THROUGHPUT, Role.SERVER, reason, at_s, direction))
                continue
            self._begin(Kind.THROUGHPUT, fill_step(site, direction, url, limits))
            self.conductor.finish(Kind.THROUGHPUT)
            self.conductor.later_s = 0.0

    def _transfer_urls(self) -> dict[Direction, str]:
        if self.card is not None and self.request.server_url is not None:
            return transfer_urls(self.request.server_url, self.card)
        server = self.request.settings.server
        plain = {Direction.DOWN: server.download, Direction.UP: server.upload}
        return {direction: url for direction, url in plain.items() if url is not None}

    def _begin(self, kind: Kind, step: Step) -> None:
        if not self.request.wants(kind):
            return
        if self.conductor.running.stopped():
            self.conductor.add(
                skipped(kind, step.role, Reason(code="interrupted"), self.timeline.now_s())
            )
            return
        self.conductor.start(step)

    def _reading(self, site: Site) -> _Mark:
        name = site.ground.interface.name
        reading = take_reading(self.workshop.facts, name, self.timeline)
        return _Mark(reading, self.conductor.running.bytes_used)

    def _note(self, site: Site, phase: Phase, since: _Mark | None) -> None:
        used = self.conductor.running.bytes_used
        self.conditions.append(
            read_conditions(
                self.workshop.facts,
                phase,
                interface=site.ground.interface.name,
                server=self.server_address,
                timeline=self.timeline,
                since=since.reading if since else None,
                own_bytes=used - since.bytes_used if since else 0,
            )
        )

    def _time_for(self, kind: Kind) -> float:
        if not self.request.wants(kind):
            return 0.0
        plan = self.request.plan
        if kind is Kind.THROUGHPUT:
            return 2 * plan.throughput.seconds
        return plan.server_echo.count * plan.server_echo.interval_s

    def _leave_out(self, kind: Kind) -> None:
        reason = self.request.skips.get(kind, Reason(code="not-in-plan"))
        self.conductor.add(skipped(kind, ROLES[kind], reason, 0.0))

    def _fail_rest(self, reason: Reason, kinds: tuple[Kind, ...]) -> None:
        at_s = self.timeline.now_s()
        for kind in kinds:
            if self.request.wants(kind):
                self.conductor.add(failed(kind, ROLES[kind], reason, at_s))

    def _no_server(self) -> Reason:
        if self.server_error is not None:
            return Reason.of(self.server_error)
        return Reason(code="no-server")

    def _server_facts(self) -> ServerFacts | None:
        if self.request.server_url is None:
            return None
        if self.card is None:
            return ServerFacts(url=self.request.server_url)
        return ServerFacts(
            id=self.card.server_id,
            software=self.card.software,
            url=self.request.server_url,
            seen_address=self.card.seen.address,
            card=self.card.to_document(),
        )
