"""Leave of the operator's reflector for one STAMP series, and its log of that series."""

from __future__ import annotations

from dataclasses import dataclass, replace

from agent.codec.card import Card, ReflectorGrant, ReflectorReport
from agent.measurements import EchoSeries, Measurement, Reason, State
from agent.probes.server import open_reflector, reflector_report
from agent.schedules.far import FarReport
from agent.session.site import Site

GRANT_WITHIN_S = 3.0
REPORT_WITHIN_S = 2.0


@dataclass(frozen=True, slots=True)
class Leave:
    """What the server granted; raises DoorstepError in both of its dealings with it."""

    site: Site
    card: Card
    grant: ReflectorGrant

    @classmethod
    def ask(cls, site: Site, card: Card, *, authenticated: bool) -> Leave:
        """Ask the server of the visit for leave, in authenticated mode where it can."""
        url, token = site.request.server_url or "", site.request.token
        grant = open_reflector(
            site.http, url, card, token, within_s=GRANT_WITHIN_S, authenticated=authenticated
        )
        return cls(site, card, grant)

    def report(self) -> ReflectorReport:
        """Return the reflector's log."""
        request = self.site.request
        return reflector_report(
            self.site.http,
            request.server_url or "",
            self.card,
            self.grant,
            request.token,
            within_s=REPORT_WITHIN_S,
        )


def log_of(report: ReflectorReport) -> FarReport:
    """Return what a schedule wants of a report."""
    return FarReport(received=report.received, order=report.runs)


def doubted(measured: Measurement, report: ReflectorReport | None) -> Measurement:
    """Return the series as cut short where probes stayed unanswered for no fault of the line.

    The reflector refused them for its rate, they came from another address than the grant's (as an
    address translator with several of them makes it), or they were not as they were sent.
    """
    observed = measured.observed
    reason = None if report is None else _doubt(report)
    if reason is None or not isinstance(observed, EchoSeries):
        return measured
    told = replace(observed, answers_limited=True)
    return replace(measured, state=State.PARTIAL, reason=reason, observed=told)


def _doubt(report: ReflectorReport) -> Reason | None:
    if report.refused:
        return Reason(code="reflector-limited", values={"refused": report.refused})
    if report.elsewhere:
        return Reason(code="reflector-elsewhere", values={"packets": report.elsewhere})
    if report.unverified:
        return Reason(code="reflector-unverified", values={"packets": report.unverified})
    return None
