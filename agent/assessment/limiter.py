"""Who held a transfer at its rate: rules over what was observed around it, surest first.

A busy machine is no proof: a program that asks for little gets it. The laptop counts as the
limiter where data waited for it, or where it was full or kept back itself. Thresholds are
judgement ("common practice, no source") unless a source stands beside them.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field

from agent.assessment.adapter import is_of_the_home
from agent.assessment.case import Case
from agent.assessment.evidence import Item
from agent.assessment.model import Limiter, Limiting
from agent.assessment.queues import FLAT_MS, idle_queue_ms, queue_of, risen_ms
from agent.assessment.sight import Sight, sight_of
from agent.measurements import Direction, Kind, Role, Scalar

_FULL_CORE = 0.85
_CROWDED_CORE = 0.95
_MUCH_OF_A_CORE = 0.25
"""A program that asks for less of a processor gets it from a fair scheduler, however busy."""

_WAITING = 0.5
_IDLE = 0.2
_KEPT_BACK = 0.2
_STOLEN = 0.1
_ROOM_IN_WINDOW = 1.3
"""A window that could carry so much more than was carried was not what limited."""

_MOSTLY = 0.5
_TAKEN_FROM_TEST = 2.0
"""Other traffic takes what it carries from the test, and some more by the losses it causes."""

_NOTICED = 0.05
_SERVER_FULL = 0.9
_STEADY, _ONE_HAS_MOST, _REPEATED = 0.03, 0.7, 0.02
_QUEUE_SEEN, _QUEUE_OF_OTHERS, _NO_QUEUE, _EITHER = 0.85, 0.7, 0.7, 0.4

HOLDS_BACK = (
    Limiting.LAPTOP,
    Limiting.SERVER,
    Limiting.WINDOW,
    Limiting.OTHER_TRAFFIC,
    Limiting.HOME,
    Limiting.HOUSEHOLD,
)
"""Limiters under which a missed rate says nothing of the line."""


_Told = tuple[Limiting, float, Mapping[str, Scalar]]


@dataclass(frozen=True, slots=True)
class _Finding:
    confidence: float
    values: Mapping[str, Scalar] = field(default_factory=dict)


def limiters_of(case: Case) -> tuple[Limiter, ...]:
    """Return who limited each transfer of a visit that was attempted."""
    items = case.evidence.select(Kind.THROUGHPUT)
    return tuple(found for item in items if (found := _of_item(case, item)) is not None)


def limiter_of(sight: Sight) -> tuple[Limiting, float, Mapping[str, Scalar]]:
    """Return the limiter of a whole transfer, the confidence, and the figures it rests on."""
    for limiter, rule in _RULES:
        found = rule(sight)
        if found is not None:
            values = {"goodput_bps": sight.goodput_bps, **found.values}
            return limiter, found.confidence, values
    return Limiting.LINE, _surely_the_line(sight), {"goodput_bps": sight.goodput_bps}


def _of_item(case: Case, item: Item) -> Limiter | None:
    told = item.measurement
    reason = told.reason.code if told.reason is not None else None
    if reason == "server-busy":
        values = {"why": "no-turn", "wait_s": told.reason.values.get("wait_s")}  # type: ignore[union-attr]
        return _limiter(item, Limiting.SERVER, 0.95, values)
    sight = sight_of(case, item)
    if sight is None:
        return None
    if item.partial:
        return _limiter(item, Limiting.UNDETERMINED, 1.0, {"why": "cut-short"})
    told_by = limiter_of(sight)
    return _limiter(item, *_by_queue(case, item, told_by))


def _by_queue(case: Case, item: Item, told_by: _Told) -> _Told:
    """Return which stretch of the way holds the rate, by where the queue stands.

    What was seen to hold it at an end of the way stays. A first hop that was not timed leaves it
    open whether the queue is on the line or past it.
    """
    limiter, confidence, values = told_by
    direction = item.measurement.direction
    if limiter is not Limiting.LINE:
        return told_by
    queue = queue_of(case.evidence, direction)
    if queue is None:
        return _unqueued(case, item, told_by)
    near = case.evidence.idle_delay(Role.GATEWAY)
    at_home = near is not None and is_of_the_home(case, near)
    seen = {**values, "queue_ms": queue.rise_ms}
    if at_home and queue.behind in (Role.GATEWAY, Role.MODEM):
        return Limiting.HOME, _QUEUE_SEEN, seen
    idle_ms = _others_queue_ms(case)
    if idle_ms is not None and queue.behind is not Role.SERVER:
        return Limiting.HOUSEHOLD, _QUEUE_OF_OTHERS, {**seen, "idle_queue_ms": idle_ms}
    if queue.behind is Role.SERVER and queue.before in _edges(at_home=at_home):
        return Limiting.NETWORK, _QUEUE_SEEN, seen
    return Limiting.LINE, max(confidence, _QUEUE_SEEN), seen


def _unqueued(case: Case, item: Item, told_by: _Told) -> _Told:
    """Return who holds a rate without a queue on the line: of a download, what lies past it.

    Of an upload it may as well be this laptop's own port, whose queue no probe waits in. A queue
    that stood on the idle line, full of another device's, rises no further.
    """
    direction = item.measurement.direction
    idle_ms = _others_queue_ms(case)
    if idle_ms is not None:
        return Limiting.HOUSEHOLD, _QUEUE_OF_OTHERS, {**told_by[2], "idle_queue_ms": idle_ms}
    if not _flat(case, direction):
        return told_by
    if direction is Direction.DOWN and _full(item) and not _long_ones_lost(case):
        return Limiting.NETWORK, _NO_QUEUE, told_by[2]
    return Limiting.LINE, _EITHER, told_by[2]


def _others_queue_ms(case: Case) -> float | None:
    """Return the deeper queue that stands on the idle line, ms: either way it slows both.

    What fills one direction holds up the acknowledgements of the other (RFC 3449 §2).
    """
    ways = (idle_queue_ms(case.evidence, way) for way in (Direction.DOWN, Direction.UP))
    return max((deep for deep in ways if deep is not None), default=None)


def _full(item: Item) -> bool:
    """Tell whether the rate is steady and one flow has most of it.

    Where every flow brings its share instead, a window or losses hold each of them.
    """
    found = item.throughput
    if found is None or not found.goodput_bps or found.single_flow_bps is None:
        return False
    if found.low_bps is None or found.high_bps is None:
        return False
    steady = found.high_bps - found.low_bps <= 2 * _STEADY * found.goodput_bps
    return steady and found.single_flow_bps >= _ONE_HAS_MOST * found.goodput_bps


def _long_ones_lost(case: Case) -> bool:
    """Tell whether uploads had to repeat what no short probe lost: then long packets are lost."""
    moved = (item.throughput for item in case.evidence.select(Kind.THROUGHPUT))
    repeated = (t.retransmit_ratio for t in moved if t is not None)
    return any(ratio is not None and ratio > _REPEATED for ratio in repeated)


def _flat(case: Case, direction: Direction) -> bool:
    """Tell whether the line's far end answers as on the idle line, and nothing is lost meanwhile.

    A line that polices its rate instead of queueing loses packets, and so looks different.
    """
    rise = risen_ms(case.evidence, Role.FIRST_HOP, direction)
    far = case.evidence.loaded_delay(Role.SERVER, direction)
    if rise is None or far is None or far.delay is None:
        return False
    return rise < FLAT_MS and far.delay.sent == far.delay.received


def _edges(*, at_home: bool) -> tuple[Role, ...]:
    """Return who stands at the far end of the access line: the gateway itself in bridge mode."""
    return (Role.FIRST_HOP,) if at_home else (Role.FIRST_HOP, Role.GATEWAY)


def _limiter(
    item: Item, limiter: Limiting, confidence: float, values: Mapping[str, Scalar]
) -> Limiter:
    return Limiter(
        direction=item.measurement.direction,
        measurement=item.id,
        limiter=limiter,
        confidence=confidence,
        values=values,
    )


def _port(sight: Sight) -> _Finding | None:
    """The rate is what this port can carry (RFC 6349 §4.1.1)."""
    if sight.ceiling_bps is None or sight.goodput_bps < sight.port_share * sight.ceiling_bps:
        return None
    return _Finding(0.95, {"ceiling_bps": sight.ceiling_bps})


def _laptop(sight: Sight) -> _Finding | None:
    """Data waited for this program, or this program for the processor."""
    for why, confidence, holds in (
        ("core-full", 0.9, _at_least(sight.cpu_ratio, _FULL_CORE)),
        ("unread", 0.9, _at_least(sight.unread_ratio, _WAITING)),
        ("nothing-to-send", 0.85, _at_least(sight.idle_ratio, _IDLE)),
        ("kept-back", 0.75, _kept_back(sight)),
        ("core-crowded", 0.7, _crowded_out(sight)),
        ("stolen", 0.7, _stolen(sight)),
    ):
        if holds:
            return _Finding(confidence, {"why": why, **_laptop_figures(sight)})
    return None


def _at_least(value: float | None, threshold: float) -> bool:
    return value is not None and value >= threshold


def _kept_back(sight: Sight) -> bool:
    """Tell whether the looks came so late that the time lost accounts for what is missing."""
    late = sight.late_ratio
    if late is None or late < _KEPT_BACK:
        return False
    return sight.wanted_bps is None or sight.goodput_bps >= sight.wanted_bps * (1 - late)


def _crowded_out(sight: Sight) -> bool:
    asked = _at_least(sight.cpu_ratio, _MUCH_OF_A_CORE)
    return asked and _at_least(sight.busiest_core_ratio, _CROWDED_CORE)


def _stolen(sight: Sight) -> bool:
    asked = _at_least(sight.cpu_ratio, _MUCH_OF_A_CORE)
    return asked and _at_least(sight.steal_ratio, _STOLEN)


def _laptop_figures(sight: Sight) -> dict[str, Scalar]:
    names = (
        "cpu_ratio",
        "waited_ratio",
        "unread_ratio",
        "idle_ratio",
        "late_ratio",
        "busiest_core_ratio",
        "steal_ratio",
    )
    told = {name: getattr(sight, name) for name in names}
    return {name: value for name, value in told.items() if value is not None}


def _window(sight: Sight) -> _Finding | None:
    """The receiver's window of all flows per round trip is the rate (RFC 6349 §3.3.1)."""
    narrow = sight.window_bps is not None and (
        sight.window_bps <= _ROOM_IN_WINDOW * sight.goodput_bps
    )
    limited, buffered = sight.window_limited_ratio, sight.send_buffer_limited_ratio
    if sight.direction is Direction.DOWN:
        return _Finding(0.85, _window_figures(sight, "laptop")) if narrow else None
    if narrow and (limited is None or limited >= _MOSTLY):
        return _Finding(0.85, _window_figures(sight, "far"))
    if not _at_least(buffered, _MOSTLY):
        return None
    return _Finding(0.7, {**_window_figures(sight, "laptop"), "why": "send-buffer"})


def _window_figures(sight: Sight, end: str) -> dict[str, Scalar]:
    return {
        "end": end,
        "window_bytes": sight.window_bytes,
        "rtt_ms": sight.rtt_ms,
        "window_bps": sight.window_bps,
    }


def _server(sight: Sight) -> _Finding | None:
    """The server's own card says that it could give no more."""
    capacity = sight.server_capacity_bps
    if capacity is not None and sight.goodput_bps >= _SERVER_FULL * capacity:
        return _Finding(0.9, {"why": "capacity", "capacity_bps": capacity})
    if capacity is not None and _at_least(sight.server_port_bps, _SERVER_FULL * capacity):
        return _Finding(0.8, {"why": "port-full", "capacity_bps": capacity})
    if sight.crowded:
        return _Finding(0.75, {"why": "crowded"})
    if _at_least(sight.server_cpu_ratio, _SERVER_FULL):
        return _Finding(0.75, {"why": "processor", "server_cpu_ratio": sight.server_cpu_ratio})
    return None


def _other_traffic(sight: Sight) -> _Finding | None:
    """Others used this port meanwhile, and enough of it to account for what is missing."""
    other = sight.foreign_bps
    if other is None or other < _NOTICED * sight.goodput_bps:
        return None
    reached = sight.goodput_bps + _TAKEN_FROM_TEST * other
    if sight.missing and sight.wanted_bps is not None and reached < sight.wanted_bps:
        return None
    return _Finding(0.8, {"other_bps": other})


def _radio(sight: Sight) -> _Finding | None:
    """Over the air nothing here tells the radio from the line."""
    return _Finding(0.5, {"why": "radio"}) if sight.radio else None


def _surely_the_line(sight: Sight) -> float:
    """Nothing else was in the way; the fewer facts could have shown it, the less that says."""
    kernel = sight.unread_ratio is not None or sight.idle_ratio is not None
    return 0.5 + 0.2 * kernel + 0.1 * sight.server_told


_RULES: tuple[tuple[Limiting, Callable[[Sight], _Finding | None]], ...] = (
    (Limiting.PORT, _port),
    (Limiting.LAPTOP, _laptop),
    (Limiting.WINDOW, _window),
    (Limiting.SERVER, _server),
    (Limiting.OTHER_TRAFFIC, _other_traffic),
    (Limiting.UNDETERMINED, _radio),
)
