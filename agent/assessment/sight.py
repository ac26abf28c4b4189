"""What was observed around one transfer, put into the figures by which a limiter is told."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from itertools import pairwise

from agent.assessment.case import Case
from agent.assessment.evidence import Item
from agent.assessment.target import ceiling_of, port_share, target_of
from agent.measurements import (
    Conditions,
    CountedBy,
    Direction,
    Phase,
    TcpCounters,
    Transfer,
)
from agent.measurements.accounts import foreign_rate_bps
from agent.stats.tcp import window_limit_bps
from agent.units import MS_PER_S

_LATE = 1.8
"""Slices longer than so many planned ones: this program was kept from looking."""

_CLOSE_S = 0.1


@dataclass(frozen=True, slots=True, kw_only=True)
class Sight:
    """One transfer with its surroundings; None = not told, shares run from 0 to 1.

    Rates are bit/s of payload. `wanted_bps` is the accepted rate, `ceiling_bps` the port's.
    `unread_ratio` is what had arrived and waited for this program, of what its window held;
    `idle_ratio` the time in which an upload had nothing under way; `late_ratio` the time by which
    this program looked too late. `window_bps` is one window of every flow per idle round trip
    (RFC 6349 §3.3.1). `crowded` says that the server called itself too full meanwhile.
    """

    direction: Direction
    goodput_bps: float
    wanted_bps: float | None = None
    ceiling_bps: float | None = None
    port_share: float = 1.0
    foreign_bps: float | None = None
    cpu_ratio: float | None = None
    waited_ratio: float | None = None
    unread_ratio: float | None = None
    idle_ratio: float | None = None
    late_ratio: float | None = None
    busiest_core_ratio: float | None = None
    steal_ratio: float | None = None
    window_bytes: int | None = None
    rtt_ms: float | None = None
    window_bps: float | None = None
    window_limited_ratio: float | None = None
    send_buffer_limited_ratio: float | None = None
    server_told: bool = False
    server_capacity_bps: float | None = None
    server_port_bps: float | None = None
    server_cpu_ratio: float | None = None
    crowded: bool = False
    radio: bool = False

    @property
    def missing(self) -> bool:
        """Tell whether the accepted rate was not reached."""
        return self.wanted_bps is not None and self.goodput_bps < self.wanted_bps


def sight_of(case: Case, item: Item) -> Sight | None:
    """Return the sight of a transfer, None where it has no figure."""
    found, seen = item.throughput, item.measurement.observed
    if found is None or found.goodput_bps is None or not isinstance(seen, Transfer):
        return None
    direction = item.measurement.direction
    target = target_of(case, item, direction)
    windows, rtt_ms = _windows(seen, direction), _round_trip(seen, found.idle_rtt_ms)
    meanwhile = _meanwhile(case.conditions, item)
    server = _server(case.circumstances.server_cards, direction)
    return Sight(
        direction=direction,
        goodput_bps=found.goodput_bps,
        wanted_bps=target.limit_bps if target else None,
        ceiling_bps=ceiling_of(case, item),
        port_share=port_share(case),
        foreign_bps=foreign_rate_bps((item.measurement,)),
        cpu_ratio=seen.cpu_ratio,
        waited_ratio=seen.waited_ratio,
        unread_ratio=_unread(seen) if direction is Direction.DOWN else None,
        idle_ratio=_idle(seen) if direction is Direction.UP else None,
        late_ratio=_late(case, seen),
        busiest_core_ratio=meanwhile.busiest_core_ratio if meanwhile else None,
        steal_ratio=meanwhile.steal_ratio if meanwhile else None,
        window_bytes=windows,
        rtt_ms=rtt_ms,
        window_bps=window_limit_bps(windows, rtt_ms) if windows and rtt_ms else None,
        window_limited_ratio=found.window_limited_ratio,
        send_buffer_limited_ratio=found.send_buffer_limited_ratio,
        server_told=bool(case.circumstances.server_cards),
        server_capacity_bps=server.capacity_bps,
        server_port_bps=server.port_bps,
        server_cpu_ratio=server.cpu_ratio,
        crowded=server.crowded,
        radio=_over_the_air(case),
    )


def late_ratio(ends_s: Sequence[float], slice_s: float) -> float | None:
    """Return the share of time by which looks came late, for slices of a planned length."""
    if not ends_s or ends_s[-1] <= 0:
        return None
    spans = (end - begin for begin, end in pairwise((0.0, *ends_s)))
    late_s = sum(span - slice_s for span in spans if span > _LATE * slice_s)
    return late_s / ends_s[-1]


def _late(case: Case, transfer: Transfer) -> float | None:
    """Return how late this program looked; slices that the server counted tell nothing of it."""
    if transfer.counted_by is CountedBy.SERVER:
        return None
    return late_ratio(transfer.slice_end_s, case.plan.throughput.slice_s)


def _over_the_air(case: Case) -> bool:
    link = case.evidence.link_statistics()
    return link is not None and link.medium in ("wireless", "mobile")


def _meanwhile(conditions: Iterable[Conditions], item: Item) -> Conditions | None:
    """Return the conditions whose readings lie around the transfer, the closest pair of them."""
    begun_s = item.measurement.started_s
    ended_s = begun_s + item.measurement.duration_s
    around = [
        c
        for c in conditions
        if c.phase is Phase.DURING
        and c.since_s is not None
        and c.since_s <= begun_s + _CLOSE_S
        and c.at_s >= ended_s - _CLOSE_S
    ]
    return min(around, key=lambda c: c.at_s - (c.since_s or 0.0), default=None)


def _windows(transfer: Transfer, direction: Direction) -> int | None:
    """Return the windows of all flows, octets: the receiver's, as each side knows it."""
    name = "receive_window_bytes" if direction is Direction.DOWN else "send_window_bytes"
    told = [_largest(transfer, flow, name) for flow in range(len(transfer.tcp))]
    known = [octets for octets in told if octets]
    return sum(known) if known and len(known) == len(told) else None


def _largest(transfer: Transfer, flow: int, name: str) -> int | None:
    """Return the largest window a flow was seen with: a full queue makes it look small."""
    readings = [r[flow] for r in (transfer.tcp_first, transfer.tcp) if flow < len(r)]
    known: list[int] = [value for r in readings if (value := getattr(r, name)) is not None]
    return max(known, default=None)


def _round_trip(transfer: Transfer, idle_ms: float | None) -> float | None:
    least = [r.min_rtt_ms for r in transfer.tcp if r.min_rtt_ms is not None]
    return min(least, default=idle_ms)


def _unread(transfer: Transfer) -> float | None:
    """Return what waited unread at the looks, of that and the windows still open."""
    readings: list[TcpCounters] = [*transfer.tcp_first, *transfer.tcp]
    told = [
        r for r in readings if r.unread_bytes is not None and r.receive_window_bytes is not None
    ]
    waiting = sum(r.unread_bytes or 0 for r in told)
    room = waiting + sum(r.receive_window_bytes or 0 for r in told)
    return waiting / room if room > 0 else None


def _idle(transfer: Transfer) -> float | None:
    """Return the share of time in which the flows had nothing under way, their mean."""
    shares = []
    for flow, last in enumerate(transfer.tcp):
        first = transfer.tcp_first[flow] if flow < len(transfer.tcp_first) else None
        if first is None or first.busy_ms is None or last.busy_ms is None:
            return None
        wall_ms = (last.at_s - first.at_s) * MS_PER_S
        if wall_ms > 0:
            shares.append(1.0 - min(1.0, (last.busy_ms - first.busy_ms) / wall_ms))
    return sum(shares) / len(shares) if shares else None


@dataclass(frozen=True, slots=True, kw_only=True)
class _Server:
    """What the server's cards say of its load."""

    capacity_bps: float | None = None
    port_bps: float | None = None
    cpu_ratio: float | None = None
    crowded: bool = False


def _server(cards: tuple[Mapping[str, object], ...], direction: Direction) -> _Server:
    loads = [load for card in cards if isinstance(load := card.get("load"), Mapping)]
    if not loads:
        return _Server()
    sends = "down_bps" if direction is Direction.DOWN else "up_bps"
    told = [_number(load.get("cpu_ratio")) for load in loads]
    return _Server(
        capacity_bps=_number(loads[-1].get("capacity_bps")),
        port_bps=_number(loads[-1].get(sends)) if len(loads) > 1 else None,
        cpu_ratio=max((ratio for ratio in told if ratio is not None), default=None),
        crowded=_crowded(cards),
    )


def _crowded(cards: tuple[Mapping[str, object], ...]) -> bool:
    """Tell whether the last card puts the server's last crowd after the first card was given."""
    load = cards[-1].get("load")
    since_s = _number(load.get("crowded_s")) if isinstance(load, Mapping) else None
    first, last = _moment(cards[0]), _moment(cards[-1])
    if since_s is None or first is None or last is None:
        return False
    try:
        return timedelta(seconds=since_s) < last - first
    except (OverflowError, TypeError):
        return False


def _moment(card: Mapping[str, object]) -> datetime | None:
    text = card.get("time")
    try:
        return datetime.fromisoformat(text) if isinstance(text, str) else None
    except ValueError:
        return None


def _number(value: object) -> float | None:
    return float(value) if isinstance(value, int | float) and not isinstance(value, bool) else None
