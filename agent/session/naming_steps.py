"""The steps that question resolvers, each apart: those of the line, and the encrypted ones."""

from __future__ import annotations

from agent.measurements import Kind, Measurement, Role
from agent.ports.names import NameAnswer, NameQuestion, NamesPort
from agent.probes.dns import METHOD, Target, measure_dns
from agent.probes.encrypted_dns import METHODS, measure_encrypted_dns
from agent.session.site import Site
from agent.session.steps import Step
from agent.settings.model import EncryptedResolver

ANSWER_S = 0.2
"""About what the last answer takes on a healthy line."""


def dns_step(site: Site, resolver: str) -> Step:
    """Return the step that questions one resolver of the line."""
    plan, wall_s = site.request.plan.dns, site.request.plan.wall_s.dns
    targets = site.request.settings.targets
    target = Target(
        resolver=resolver,
        test_names=targets.names,
        tests=targets.name_tests,
        place=site.ground.resolvers.index(resolver),
    )

    def probe() -> tuple[Measurement, ...]:
        measured = measure_dns(
            site.names,
            target,
            plan,
            timeline=site.timeline,
            within_s=wall_s,
            running=site.running,
        )
        return (measured,)

    return Step(
        kind=Kind.DNS,
        role=Role.RESOLVER,
        probe=probe,
        expected_s=plan.queries * plan.interval_s + ANSWER_S,
        wall_s=wall_s,
        method=METHOD,
    )


def encrypted_step(site: Site, resolver: EncryptedResolver) -> Step:
    """Return the step that questions one encrypted resolver."""
    plan, wall_s = site.request.plan.dns, site.request.plan.wall_s.dns

    def probe() -> tuple[Measurement, ...]:
        names: NamesPort = site.names
        if resolver.address is not None:
            names = PinnedNames(site.names, resolver.host, resolver.address)
        measured = measure_encrypted_dns(
            site.workshop.encrypted_names(site.ground.binding, names, resolver.port, resolver.path),
            resolver,
            plan,
            test_names=site.request.settings.targets.names,
            timeline=site.timeline,
            within_s=wall_s,
            running=site.running,
        )
        return (measured,)

    return Step(
        kind=Kind.DNS,
        role=Role.RESOLVER,
        probe=probe,
        expected_s=plan.encrypted_queries * ANSWER_S,
        wall_s=wall_s,
        method=METHODS[resolver.transport],
    )


class PinnedNames:
    """A names port on which one name has a given address; the others are looked up."""

    def __init__(self, names: NamesPort, host: str, address: str) -> None:
        self._names = names
        self._host = host
        self._address = address

    def ask(self, question: NameQuestion, within_s: float) -> NameAnswer:
        """Ask as the port underneath."""
        return self._names.ask(question, within_s)

    def query(self, resolver: str, name: str, qtype: str, within_s: float) -> NameAnswer:
        """Ask as the port underneath."""
        return self._names.query(resolver, name, qtype, within_s)

    def resolve(self, name: str, family: int, within_s: float) -> tuple[str, ...]:
        """Return the given address whatever the family wanted, or look the name up."""
        if name == self._host:
            return (self._address,)
        return self._names.resolve(name, family, within_s)
