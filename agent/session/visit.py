"""One visit: every measurement of the plan in an order that keeps them from disturbing each other.

First what hardly loads the line, side by side; then the delay series on the idle line; then, with
consent and alone, each direction filled while a process of its own times the line.
"""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import replace

from agent.clock import Clock, Timeline
from agent.diagnosis.segments import Surroundings
from agent.errors import CannotMeasure
from agent.measurements import (
    Conditions,
    HopWalk,
    Kind,
    PathStatistics,
    Phase,
    Reason,
    Role,
)
from agent.probes.hop_names import NameSearch
from agent.probes.link import measure_link
from agent.probes.means import STAMP
from agent.session.beside import Beside
from agent.session.family_steps import family_step
from agent.session.far_server import FarServer
from agent.session.filling import expected_s
from agent.session.ground import Ground, stand_on
from agent.session.hop_naming import named, search_names
from agent.session.line_filler import DIRECTIONS, LineFiller
from agent.session.looks import lease_step, path_step, web_step
from agent.session.naming_steps import dns_step, encrypted_step
from agent.session.outcome import Outcome
from agent.session.reach_steps import reach_step
from agent.session.readings import Readings
from agent.session.request import VisitRequest, Watcher
from agent.session.running import VisitRunning
from agent.session.series import delay_step
from agent.session.site import Site
from agent.session.steps import Conductor, Step, failed, numbered, skipped
from agent.session.targets import (
    EchoTarget,
    first_hop,
    port_of_url,
    server_link,
    surroundings,
)
from agent.session.web_steps import access_step
from agent.session.workshop import Prober, Workshop
from agent.stats.path import path_statistics

ROLES = {
    Kind.LINK: Role.LOCAL,
    Kind.LEASE: Role.LOCAL,
    Kind.DNS: Role.RESOLVER,
    Kind.DELAY: Role.SERVER,
    Kind.PATH: Role.SERVER,
    Kind.HTTP: Role.OUTSIDE,
    Kind.REACH: Role.OUTSIDE,
    Kind.THROUGHPUT: Role.SERVER,
}

BEYOND = (Kind.DNS, Kind.DELAY, Kind.PATH, Kind.HTTP, Kind.REACH, Kind.THROUGHPUT)


def observe(
    request: VisitRequest,
    workshop: Workshop,
    clock: Clock,
    running: VisitRunning,
    watcher: Watcher,
) -> Outcome:
    """Run the plan and return what was observed, complete or not; never raises CannotMeasure."""
    timeline = Timeline.begin(clock)
    patience_s = request.settings.server.patience_s
    conductor = Conductor(timeline, running, watcher, patience_s=patience_s)
    return _Visit(request, workshop, conductor).run()


class _Visit:
    """The course of one visit over a conductor."""

    def __init__(self, request: VisitRequest, workshop: Workshop, conductor: Conductor) -> None:
        self.request = request
        self.workshop = workshop
        self.conductor = conductor
        self.timeline = conductor.timeline
        self.conditions: list[Conditions] = []
        self.server = FarServer(request, conductor)
        self.hop_names: NameSearch | None = None

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
            measurements=numbered(named(self.conductor.measurements, self.hop_names)),
            conditions=tuple(self.conditions),
            server=self.server.facts(),
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
        self.conductor.later_s = self._idle_s() + self._filling_s(site)
        if self.request.wants(Kind.LINK):
            self.conductor.add(
                measure_link(self.workshop.facts, ground.interface.name, self.timeline)
            )
        self._begin(Kind.LEASE, lease_step(site))
        try:
            ground.require_address()
        except CannotMeasure as error:
            self._fail_rest(Reason.of(error), BEYOND)
            readings = Readings(site, self.server)
            readings.note(Phase.AFTER, None)
            self.conditions = readings.conditions
        else:
            self._measure_through(site)
        self.conductor.later_s = 0.0
        self.conductor.finish()

    def _measure_through(self, site: Site) -> None:
        readings = Readings(site, self.server)
        self.conditions = readings.conditions
        began = readings.mark()
        self._meet_server(site)
        readings.ask_time()
        path = self._look(site)
        hop = first_hop(path, self._surroundings(site)) if path else None
        with self._prober() as prober:
            self._time(site, hop)
            self.conductor.finish(Kind.LEASE)
            self._ask_for_portal(site)
            readings.note(Phase.BEFORE, began)
            if self.request.wants(Kind.THROUGHPUT):
                beside = None if prober is None else Beside(site, self.server, prober, hop)
                LineFiller(site, self.conductor, self.server, readings, beside).fill()
                self.server.look_again(site)
        readings.note(Phase.AFTER, None)

    @contextmanager
    def _prober(self) -> Iterator[Prober | CannotMeasure | None]:
        """Yield the prober where one is needed, or why there is none.

        It loads its modules beside the idle series, whose stamps are the kernel's: not while names
        and pages are timed by this process, and not when the load is about to begin.
        """
        if not (self.request.wants(Kind.THROUGHPUT) and self.request.wants(Kind.DELAY)):
            yield None
            return
        try:
            prober = self.workshop.prober()
        except CannotMeasure as error:
            yield error
            return
        try:
            yield prober
        finally:
            prober.close()

    def _meet_server(self, site: Site) -> None:
        for resolver in site.ground.resolvers:
            self._begin(Kind.DNS, dns_step(site, resolver))
        for target in self.request.settings.targets.web:
            self._begin(Kind.HTTP, web_step(site, target))
        for encrypted in self.request.settings.targets.encrypted:
            self._begin(Kind.DNS, encrypted_step(site, encrypted))
        if self.request.family == "both" and self.request.settings.targets.web:
            self._begin(Kind.HTTP, family_step(site))
        self.server.meet(site)

    def _ask_for_portal(self, site: Site) -> None:
        """Ask the captive portal API; the lease, which may name it, is known by now."""
        if self.request.wants(Kind.HTTP):
            self._begin(Kind.HTTP, access_step(site, self.conductor.measurements))
            self.conductor.finish(Kind.HTTP)

    def _look(self, site: Site) -> PathStatistics | None:
        if self.server.address is not None:
            self._begin(Kind.PATH, path_step(site, self.server.address, self.server.card))
        elif self.request.wants(Kind.PATH):
            self._fail_rest(self.server.reason(), (Kind.PATH,))
        self._without_target(site)
        walked = self.conductor.finish(Kind.PATH)
        # A look at a blocked port needs the routers that just answered the walk; they answer only
        # so often.
        self._reach(site)
        self.conductor.finish(Kind.DNS, Kind.HTTP, Kind.REACH)
        for one in walked:
            if isinstance(one.observed, HopWalk):
                self.hop_names = search_names(site, one.observed)
                return path_statistics(one.observed)
        return None

    def _reach(self, site: Site) -> None:
        step = reach_step(site, self.server.address, self.server.card)
        if step is not None:
            self._begin(Kind.REACH, step)
        elif self.request.wants(Kind.REACH):
            none = Reason(code="no-ports")
            self.conductor.add(skipped(Kind.REACH, ROLES[Kind.REACH], none, self.timeline.now_s()))

    def _without_target(self, site: Site) -> None:
        if self.request.wants(Kind.DNS) and not site.ground.resolvers:
            self._fail_rest(Reason(code="no-resolver"), (Kind.DNS,))
        if self.request.wants(Kind.HTTP) and not self.request.settings.targets.web:
            self._fail_rest(Reason(code="no-target"), (Kind.HTTP,))

    def _time(self, site: Site, hop: str | None) -> None:
        self.conductor.later_s = self._filling_s(site)
        if not self.request.wants(Kind.DELAY):
            return
        far = self._far_target()
        if far is None:
            self._fail_rest(self.server.reason(), (Kind.DELAY,))
        targets = [*self._near_targets(site, hop), *([] if far is None else [far])]
        if targets:
            self._begin(Kind.DELAY, delay_step(site, targets, self.server.card))
        self.conductor.finish(Kind.DELAY)

    def _far_target(self) -> EchoTarget | None:
        card, address = self.server.card, self.server.address
        if address is None:
            return None
        url = server_link(self.request.server_url, self.request.settings.server)
        echo = EchoTarget(role=Role.SERVER, address=address, connect_port=port_of_url(url or ""))
        reflects = card is not None and card.endpoints.reflector is not None
        return replace(echo, method=STAMP) if reflects else echo

    def _near_targets(self, site: Site, hop: str | None) -> list[EchoTarget]:
        near = (
            (Role.GATEWAY, site.ground.gateway),
            (Role.GATEWAY, self._other_gateway(site.ground)),
            (Role.MODEM, self.request.settings.line.modem_address),
            (Role.FIRST_HOP, hop),
            *((Role.OUTSIDE, outside) for outside in self.request.settings.targets.echo),
        )
        found = [EchoTarget(role=r, address=a) for r, a in near if a is not None]
        return [*found, *self._long(site, found)]

    def _long(self, site: Site, near: list[EchoTarget]) -> list[EchoTarget]:
        """Return the series of long probes: over the home's own cable, and over no line."""
        gateways = (one for one in near if one.role is Role.GATEWAY)
        at_home = not self._surroundings(site).direct
        return [replace(one, long=True) for one in gateways if at_home][:1]

    def _surroundings(self, site: Site) -> Surroundings:
        line, card = self.request.settings.line, self.server.card
        return surroundings(
            site.ground,
            self.request.plugged_into,
            line,
            server=self.server.address,
            seen=card.seen.address if card else None,
        )

    def _other_gateway(self, ground: Ground) -> str | None:
        """Return the gateway of IPv6 beside that of IPv4, where the visit is asked for it."""
        other = ground.interface.gateway(6)
        return None if self.request.family == "4" or other == ground.gateway else other

    def _begin(self, kind: Kind, step: Step) -> None:
        if not self.request.wants(kind):
            return
        if self.conductor.running.stopped():
            self.conductor.add(
                skipped(kind, step.role, Reason(code="interrupted"), self.timeline.now_s())
            )
            return
        self.conductor.start(step)

    def _idle_s(self) -> float:
        echo = self.request.plan.server_echo
        return echo.count * echo.interval_s if self.request.wants(Kind.DELAY) else 0.0

    def _filling_s(self, site: Site) -> float:
        wanted = self.request.wants(Kind.THROUGHPUT)
        return len(DIRECTIONS) * expected_s(site) if wanted else 0.0

    def _leave_out(self, kind: Kind) -> None:
        reason = self.request.skips.get(kind, Reason(code="not-in-plan"))
        self.conductor.add(skipped(kind, ROLES[kind], reason, 0.0))

    def _fail_rest(self, reason: Reason, kinds: tuple[Kind, ...]) -> None:
        at_s = self.timeline.now_s()
        for kind in kinds:
            if self.request.wants(kind):
                self.conductor.add(failed(kind, ROLES[kind], reason, at_s))
