"""Delay while a direction is filled: the prober's series, cut to the time of the transfer."""

from __future__ import annotations

from dataclasses import dataclass, replace

from agent.codec.card import ReflectorGrant, ReflectorReport
from agent.codec.stamp_authenticated import AUTHENTICATED_LENGTH
from agent.errors import CannotMeasure, DoorstepError
from agent.measurements import (
    Direction,
    EchoSeries,
    Kind,
    Measurement,
    Reason,
    Role,
    State,
    Transfer,
)
from agent.probes.means import ICMP_ECHO, STAMP
from agent.probes.server import with_rate
from agent.schedules.far_view import with_log
from agent.session.far_server import FarServer
from agent.session.leave import Leave, doubted, log_of
from agent.session.prober.order import FetchOrder, Order, SeriesOrder
from agent.session.site import Site
from agent.session.targets import port_of_url, server_link
from agent.session.workshop import Prober, SeriesBeside
from agent.settings.model import EchoPlan, Tier

SPARED_SHARE, SPARED_BY_FETCHES = 0.0025, 0.002
"""What probes and fetches may take of the line that is measured: it is missing in the goodput. On
10 Mbit/s this leaves a transfer of the usual length the probes that a 95th percentile takes."""

SERIES_OVER_LINE = 2
"""The series to the server and to the first hop cross the line; those before it do not."""

HEADER_BYTES = 42
"""UDP, IPv4 and Ethernet headers of a probe (RFC 768, 791; IEEE 802.3)."""

FETCH_BITS = 8 * 1_800
"""A small fetch in the direction in which its answer goes: one full packet and four bare ones."""

PROBE_SLOWEST_S = 0.1
FETCH_INTERVAL_S, FETCH_SLOWEST_S = 0.2, 1.0


def sold_bps(tier: Tier, direction: Direction) -> int:
    """Return the headline rate of a direction."""
    return tier.down_bps if direction is Direction.DOWN else tier.up_bps


def spaced_s(bits: int, spared_bps: float | None, usual_s: float, slowest_s: float) -> float:
    """Return the pause between probes of a size within a spared rate; usual where it is unknown."""
    if spared_bps is None:
        return usual_s
    return min(max(usual_s, bits / spared_bps), slowest_s)


def sparing(plan: EchoPlan, rate_bps: int | None) -> EchoPlan:
    """Return the plan of a loaded series, slower on a slow line."""
    slowest_s = max(PROBE_SLOWEST_S, plan.interval_s)
    length = max(plan.payload_bytes, AUTHENTICATED_LENGTH if plan.authenticated else 0)
    bits = SERIES_OVER_LINE * 8 * (length + HEADER_BYTES)
    spared_bps = None if rate_bps is None else SPARED_SHARE * rate_bps
    interval_s = spaced_s(bits, spared_bps, plan.interval_s, slowest_s)
    return plan.model_copy(update={"interval_s": interval_s})


@dataclass(frozen=True, slots=True)
class Begun:
    """Series under way, and the leave that the reflector gave for one of them."""

    series: SeriesBeside
    leave: Leave | None

    def end(self) -> None:
        """Send no more probes; raises ProberFailed."""
        self.series.end()


class Beside:
    """Loaded series of one visit; without a prober, or where one fails, each says why.

    They go to the server, and to gateway, modem and first hop on the way there: where the delay
    begins to rise, there the queue stands that holds the rate back.
    """

    def __init__(
        self,
        site: Site,
        server: FarServer,
        prober: Prober | CannotMeasure,
        first_hop: str | None = None,
    ) -> None:
        self._site = site
        self._server = server
        self._prober = prober
        self._first_hop = first_hop

    def begin(self, direction: Direction) -> Begun | Reason:
        """Begin the series of a direction; a reason where that cannot be."""
        if isinstance(self._prober, CannotMeasure):
            return Reason.of(self._prober)
        try:
            leave = self._leave()
            grant = None if leave is None else leave.grant
            return Begun(self._prober.begin(self._order(direction, grant)), leave)
        except DoorstepError as error:
            return Reason.of(error)

    def results(self, begun: Begun | Reason, transfer: Measurement) -> list[Measurement]:
        """Return what the series found while the transfer ran, after their end.

        Nothing where the transfer carried nothing: there was no load, and its own entry says why.
        """
        if not isinstance(transfer.observed, Transfer):
            return []
        if isinstance(begun, Reason):
            return [_failed(begun, transfer)]
        try:
            found, moved = begun.series.results()
        except DoorstepError as error:
            return [_failed(Reason.of(error), transfer)]
        self._site.running.used(moved)
        report = _report(begun.leave)
        return [while_filled(_told(one, report), transfer) for one in found]

    def _order(self, direction: Direction, grant: ReflectorGrant | None) -> Order:
        plan, tier = self._site.request.plan, self._site.request.tier
        rate_bps = None if tier is None else sold_bps(tier, direction)
        return Order(
            origin_s=self._site.timeline.origin_s,
            binding=self._site.ground.binding,
            load=direction.value,
            plan=sparing(plan.loaded_echo, rate_bps),
            within_s=plan.wall_s.throughput,
            series=self._series(grant),
            fetch=self._fetch(rate_bps),
        )

    def _series(self, grant: ReflectorGrant | None) -> tuple[SeriesOrder, ...]:
        address = self._server.address
        near = (
            (Role.GATEWAY, self._site.ground.gateway),
            (Role.MODEM, self._site.request.settings.line.modem_address),
            (Role.FIRST_HOP, self._first_hop),
        )
        return (
            *(() if address is None else (self._towards(address, grant),)),
            *(
                SeriesOrder(role=role, method=ICMP_ECHO, address=one)
                for role, one in near
                if one is not None and ":" not in one
            ),
        )

    def _towards(self, address: str, grant: ReflectorGrant | None) -> SeriesOrder:
        if grant is None:
            port = port_of_url(self._url() or "")
            return SeriesOrder(
                role=Role.SERVER, method=ICMP_ECHO, address=address, connect_port=port
            )
        return SeriesOrder(
            role=Role.SERVER,
            method=STAMP,
            address=address,
            port=grant.port,
            ssid=grant.ssid,
            key=grant.key,
        )

    def _leave(self) -> Leave | None:
        """Return leave of the server's reflector, None where it has none; raises DoorstepError."""
        card, site = self._server.card, self._site
        if self._server.address is None or card is None or site.request.server_url is None:
            return None
        if card.endpoints.reflector is None:
            return None
        return Leave.ask(site, card, authenticated=site.request.plan.loaded_echo.authenticated)

    def _url(self) -> str | None:
        request = self._site.request
        return server_link(request.server_url, request.settings.server)

    def _fetch(self, rate_bps: int | None) -> FetchOrder | None:
        """Return the fetches of the server's card; a plain server names nothing small to fetch."""
        url, address = self._site.request.server_url, self._server.address
        if self._server.card is None or url is None or address is None:
            return None
        asked = with_rate(url, self._server.rate_bps)
        spared_bps = None if rate_bps is None else SPARED_BY_FETCHES * rate_bps
        return FetchOrder(
            url=asked,
            address=address,
            token=self._site.request.token,
            interval_s=spaced_s(FETCH_BITS, spared_bps, FETCH_INTERVAL_S, FETCH_SLOWEST_S),
        )


def _report(leave: Leave | None) -> ReflectorReport | None:
    try:
        return None if leave is None else leave.report()
    except DoorstepError:
        # The counts on the answers still tell most of what the log would have.
        return None


def _told(series: Measurement, report: ReflectorReport | None) -> Measurement:
    """Return a series with what the reflector's log tells of it; others are as they were."""
    if report is None or series.method != STAMP or not isinstance(series.observed, EchoSeries):
        return series
    told = replace(series, observed=with_log(series.observed, log_of(report)))
    return doubted(told, report)


def while_filled(series: Measurement, transfer: Measurement) -> Measurement:
    """Return a loaded series without the probes sent before or after the load."""
    moved, observed = transfer.observed, series.observed
    if not isinstance(moved, Transfer) or not isinstance(observed, EchoSeries):
        return series
    began_s = transfer.started_s if moved.began_s is None else moved.began_s
    lasted_s = max(moved.slice_end_s, default=0.0)
    return replace(
        series,
        started_s=began_s,
        duration_s=lasted_s,
        observed=observed.between(began_s, began_s + lasted_s),
    )


def _failed(reason: Reason, transfer: Measurement) -> Measurement:
    return Measurement(
        kind=Kind.DELAY,
        role=Role.SERVER,
        state=State.FAILED,
        method="none",
        started_s=transfer.started_s,
        duration_s=0.0,
        direction=transfer.direction,
        reason=reason,
    )
