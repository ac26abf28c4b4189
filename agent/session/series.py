"""The delay series of a visit: server, gateway, first hop, modem, outside, all in one loop."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace

from agent.codec.card import Card, ReflectorReport
from agent.errors import DoorstepError
from agent.measurements import Kind, Measurement, Role
from agent.ports.datagram import ProbeSocket
from agent.probes.means import ICMP_ECHO, STAMP
from agent.schedules.far import FarReport
from agent.session.leave import Leave, doubted, log_of
from agent.session.several import Aimed, Opened, Rounds, open_all
from agent.session.site import Site
from agent.session.steps import Step
from agent.session.targets import EchoTarget
from agent.settings.model import EchoPlan

ECHO = ICMP_ECHO


def plan_of(site: Site, target: EchoTarget) -> EchoPlan:
    """Return how the series to a target is sent: many probes to the server, few to what is near."""
    plan = site.request.plan
    if target.long:
        return plan.long_echo
    return plan.server_echo if target.role is Role.SERVER else plan.near_echo


def delay_step(site: Site, targets: Sequence[EchoTarget], card: Card | None) -> Step:
    """Return the step of all series; that of a STAMP target has leave asked of the server."""
    plan = site.request.plan
    longest = max(
        (p.count * p.interval_s for p in (plan_of(site, t) for t in targets)), default=0.0
    )
    return Step(
        kind=Kind.DELAY,
        role=Role.SERVER,
        probe=lambda: _Series(site, card).measured(targets),
        expected_s=longest + 0.3,
        wall_s=plan.wall_s.delay,
        method=targets[-1].method if targets else ECHO,
    )


@dataclass
class _Series:
    """The series of one step, and what the reflector told of its own."""

    site: Site
    card: Card | None
    told: list[ReflectorReport] = field(default_factory=list)

    def measured(self, targets: Sequence[EchoTarget]) -> tuple[Measurement, ...]:
        site = self.site
        opened = [one for target in targets for one in self._opened(target)]
        rounds = Rounds(
            opener=self._open,
            wait=site.workshop.wait_together,
            timeline=site.timeline,
            running=site.running,
        )
        results = rounds.run(opened, site.request.plan.wall_s.delay)
        report = self.told[-1] if self.told else None
        return tuple(doubted(m, report) if m.method == STAMP else m for m in results)

    def _opened(self, target: EchoTarget) -> tuple[Opened, ...]:
        plan = plan_of(self.site, target)
        if target.method != STAMP or self.card is None:
            return open_all((Aimed(target=target, plan=plan),), self._open)
        try:
            aimed = self._granted(target, plan, self.card)
        except DoorstepError as error:
            return (Opened(aimed=Aimed(target=target, plan=plan), error=error),)
        return open_all((aimed,), self._open)

    def _granted(self, target: EchoTarget, plan: EchoPlan, card: Card) -> Aimed:
        leave = Leave.ask(self.site, card, authenticated=plan.authenticated)

        def far_report() -> FarReport | None:
            self.told.append(leave.report())
            return log_of(self.told[-1])

        grant = leave.grant
        granted = replace(target, port=grant.port, ssid=grant.ssid, key=grant.secret)
        return Aimed(target=granted, plan=plan, far_report=far_report)

    def _open(self, target: EchoTarget) -> ProbeSocket:
        return self.site.workshop.probe_socket(
            target.method, self.site.ground.binding, target.address, target.port
        )
