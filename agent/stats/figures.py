"""The figures of RFC 6349 that need a transfer beside the port, the tier and the delay series."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace

from agent.measurements import (
    DelayStatistics,
    Direction,
    EchoOutcome,
    EchoSeries,
    LinkStatistics,
    Measurement,
    Role,
    Statistics,
    TcpCounters,
    ThroughputStatistics,
    Transfer,
)
from agent.stats import tcp
from agent.stats.layers import (
    IPV4_TCP_BYTES,
    TIMESTAMP_BYTES,
    USUAL_MTU_BYTES,
    Packet,
    convert,
    payload_ceiling,
)
from agent.stats.quantiles import mean, smallest

NO_LOAD = "none"
WINDOW, SEND_BUFFER = "receive_window_limited_ms", "send_buffer_limited_ms"


@dataclass(frozen=True, slots=True, kw_only=True)
class Sold:
    """What was sold each way in bit/s at a layer, and what wraps each packet in octets."""

    down_bps: float
    up_bps: float
    layer: str
    wrapping_bytes: int = 0


@dataclass(frozen=True, slots=True)
class Ideal:
    """The bottleneck as TCP payload, bit/s, and who says so."""

    rate_bps: float
    source: str


@dataclass(frozen=True, slots=True)
class RoundTrips:
    """Least round trip when idle and mean round trip under load, ms, and who saw them."""

    idle_ms: float | None = None
    loaded_ms: float | None = None
    source: str | None = None


def completed(
    measurements: Sequence[Measurement],
    statistics: Mapping[str, Statistics | None],
    sold: Sold | None,
) -> dict[str, Statistics | None]:
    """Return the statistics by id, those of transfers with the figures of RFC 6349 added.

    The ideal (§4.1.1) is the smaller of tier and port; where nothing was sold, or the line has
    shown more, it is the best rate of that direction in the visit.
    """
    visit = _Visit(measurements, statistics, sold)
    return {m.id: visit.completed(m) for m in measurements}


@dataclass(frozen=True, slots=True)
class _Visit:
    measurements: Sequence[Measurement]
    statistics: Mapping[str, Statistics | None]
    sold: Sold | None

    def completed(self, measurement: Measurement) -> Statistics | None:
        found, seen = self.statistics.get(measurement.id), measurement.observed
        if not isinstance(found, ThroughputStatistics) or not isinstance(seen, Transfer):
            return found
        ideal = self._ideal(measurement.direction, seen)
        trips = self._round_trips(measurement, seen, found)
        return _with_figures(found, seen, measurement.direction, ideal, trips)

    def _ideal(self, direction: Direction, transfer: Transfer) -> Ideal | None:
        stated = self._stated(direction, transfer)
        rates = (
            s.goodput_bps
            for m in self.measurements
            if m.direction is direction
            and isinstance(s := self.statistics.get(m.id), ThroughputStatistics)
            and s.goodput_bps is not None
        )
        best = max(rates, default=0.0)
        if stated is not None and stated.rate_bps >= best:
            return stated
        return Ideal(best, "observed") if best > 0 else None

    def _stated(self, direction: Direction, transfer: Transfer) -> Ideal | None:
        """Return the smaller of tier and port; a port alone does not tell the line's bottleneck."""
        if self.sold is None:
            return None
        packet = Packet(
            mtu_bytes=transfer.mtu_bytes or USUAL_MTU_BYTES,
            header_bytes=transfer.header_bytes or IPV4_TCP_BYTES + TIMESTAMP_BYTES,
            wrapping_bytes=self.sold.wrapping_bytes,
        )
        sold = self.sold.down_bps if direction is Direction.DOWN else self.sold.up_bps
        tier = Ideal(convert(sold, packet, self.sold.layer, "payload"), "tier")
        speed = self._port_bps()
        port = Ideal(payload_ceiling(speed, packet), "port") if speed else tier
        return min(tier, port, key=lambda ideal: ideal.rate_bps)

    def _port_bps(self) -> int | None:
        """Return the speed of a port that has a ceiling: that of a radio is not its rate."""
        links = (s for s in self.statistics.values() if isinstance(s, LinkStatistics))
        return next((s.speed_bps for s in links if s.ceiling_bps is not None), None)

    def _round_trips(
        self, measurement: Measurement, transfer: Transfer, found: ThroughputStatistics
    ) -> RoundTrips:
        idle = smallest(
            s.rtt_ms.min for _, s in self._series(measurement, NO_LOAD) if s.rtt_ms.min is not None
        )
        begin_s, end_s = _counted(measurement, transfer, found)
        load = measurement.direction.value
        loaded = [once_a_second(m, begin_s, end_s) for m, _ in self._series(measurement, load)]
        values = [v for series in loaded for v in series]
        if idle is not None and values:
            return RoundTrips(idle, mean(values), "delay")
        sends = measurement.direction is Direction.UP
        seen = _kernel_trips(transfer, begin_s, end_s) if sends else None
        return seen or RoundTrips(idle, None, None if idle is None else "delay")

    def _series(self, transfer: Measurement, load: str) -> list[tuple[EchoSeries, DelayStatistics]]:
        """Return the series to the server under one load, of the transfer's family if known."""
        return [
            (m.observed, s)
            for m in self.measurements
            if m.role is Role.SERVER
            and isinstance(m.observed, EchoSeries)
            and isinstance(s := self.statistics.get(m.id), DelayStatistics)
            and s.load == load
            and (None in (m.family, transfer.family) or m.family == transfer.family)
        ]


def once_a_second(series: EchoSeries, begin_s: float, end_s: float) -> list[float]:
    """Return one round trip in ms for each second between two times that had answers.

    RFC 6349 §4.3 takes one sample a second; the mean of the second's answers stands for it.
    """
    probes = zip(series.sent_s, series.rtt_ms, series.outcome, strict=True)
    answered = [(s, r) for s, r, o in probes if o is EchoOutcome.ANSWERED and r is not None]
    return _by_second(answered, begin_s, end_s)


def _by_second(values: Iterable[tuple[float, float]], begin_s: float, end_s: float) -> list[float]:
    seconds: dict[int, list[float]] = {}
    for at_s, value in values:
        if begin_s <= at_s <= end_s:
            seconds.setdefault(int(at_s - begin_s), []).append(value)
    return [sum(found) / len(found) for _, found in sorted(seconds.items())]


def _counted(
    measurement: Measurement, transfer: Transfer, found: ThroughputStatistics
) -> tuple[float, float]:
    """Return when the counted part of a transfer began and ended, seconds into the visit."""
    began_s = measurement.started_s if transfer.began_s is None else transfer.began_s
    lasted_s = transfer.slice_end_s[-1] if transfer.slice_end_s else measurement.duration_s
    return began_s + (found.ramp_s or 0.0), began_s + lasted_s


def limited_ratio(transfer: Transfer, counter: str) -> float | None:
    """Return the share of the sending time that a counter of TcpCounters names, over all flows."""
    spent = busy = 0.0
    for flow, last in enumerate(transfer.tcp):
        first = transfer.tcp_first[flow] if flow < len(transfer.tcp_first) else None
        for_it, sending = _since(first, last, counter), _since(first, last, "busy_ms")
        if for_it is None or sending is None:
            return None
        spent, busy = spent + for_it, busy + sending
    return min(1.0, spent / busy) if busy > 0 else None


def _since(first: TcpCounters | None, last: TcpCounters, counter: str) -> float | None:
    now: float | None = getattr(last, counter)
    before: float | None = getattr(first, counter) if first is not None else None
    return None if now is None else now - (before or 0.0)


def _kernel_trips(transfer: Transfer, begin_s: float, end_s: float) -> RoundTrips | None:
    """Return the sender's own view of the round trip: its smoothed ones and the least."""
    samples = [(r.at_s, r.rtt_ms) for r in transfer.tcp_samples if r.rtt_ms is not None]
    each = _by_second(samples, begin_s, end_s)
    loaded = mean(each or [r.rtt_ms for r in transfer.tcp if r.rtt_ms is not None])
    least = smallest(r.min_rtt_ms for r in transfer.tcp if r.min_rtt_ms is not None)
    return None if loaded is None or least is None else RoundTrips(least, loaded, "tcp")


def _with_figures(
    found: ThroughputStatistics,
    transfer: Transfer,
    direction: Direction,
    ideal: Ideal | None,
    trips: RoundTrips,
) -> ThroughputStatistics:
    idle, loaded = trips.idle_ms, trips.loaded_ms
    product = tcp.bandwidth_delay_bits(ideal.rate_bps, idle) if ideal and idle else None
    window = tcp.least_window_bytes(ideal.rate_bps, idle) if ideal and idle else None
    sends = direction is Direction.UP
    return replace(
        found,
        ideal_bps=ideal.rate_bps if ideal else None,
        ideal_source=ideal.source if ideal else None,
        transfer_time_ratio=_time_ratio(found, ideal),
        idle_rtt_ms=idle,
        loaded_rtt_ms=loaded,
        rtt_source=trips.source,
        buffer_delay_ratio=tcp.buffer_delay_ratio(loaded, idle) if loaded and idle else None,
        bdp_bits=product,
        window_needed_bytes=window,
        window_limited_ratio=limited_ratio(transfer, WINDOW) if sends else None,
        send_buffer_limited_ratio=limited_ratio(transfer, SEND_BUFFER) if sends else None,
    )


def _time_ratio(found: ThroughputStatistics, ideal: Ideal | None) -> float | None:
    """Return actual over ideal time of the octets that the rate rests on (RFC 6349 §4.1)."""
    if ideal is None or not found.goodput_bps or not found.used_s:
        return None
    counted_bits = found.goodput_bps * found.used_s
    return tcp.transfer_time_ratio(found.used_s, counted_bits / ideal.rate_bps)
