"""`doorstep measure throughput --self-check`: what this laptop and adapter carry on the bench."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime
from typing import TYPE_CHECKING

from agent.cli.guard import say
from agent.cli.laptop_file import keep_check, laptop_file, new_device_id, read_laptop
from agent.clock import SystemClock
from agent.errors import UsageError
from agent.measurements import (
    Direction,
    Kind,
    LaptopCheck,
    LinkFacts,
    Reason,
    State,
    ThroughputStatistics,
)
from agent.session.request import VisitRequest
from agent.units import MEGA

if TYPE_CHECKING:
    from agent.record.model import Record

KEPT = "Kept as this laptop's own check of {interface}: {down} down, {up} up."
NOT_KEPT = "Nothing was carried, so nothing is kept of it."


def require_throughput(kind: str) -> None:
    """Raise UsageError where another measurement than throughput is asked for."""
    if kind != Kind.THROUGHPUT.value:
        raise UsageError(
            problem=f"--self-check does not go with {kind}.",
            remedy="Use it with: doorstep measure throughput --self-check",
        )


def with_link(request: VisitRequest) -> VisitRequest:
    """Return the request with the port read as well: a check is of an adapter and its bus."""
    skips: dict[Kind, Reason] = {**request.skips}
    skips.pop(Kind.LINK, None)
    return replace(request, skips=skips)


def keep(record: Record) -> bool:
    """Write down what a record shows this laptop to carry, and say so. Raises OutputError."""
    path = laptop_file()
    before = read_laptop(path)
    device_id = before.device_id or new_device_id()
    check = check_of(record, device_id, SystemClock().wall())
    if check is None:
        say(NOT_KEPT)
        return False
    keep_check(path, check, before)
    down, up = _rate(check.down_bps), _rate(check.up_bps)
    say(KEPT.format(interface=check.interface, down=down, up=up))
    return True


def check_of(record: Record, device_id: str, now: datetime) -> LaptopCheck | None:
    """Return the check that a record makes, None where no direction was carried to its end."""
    link = next(
        (
            one.measurement.observed
            for one in record.measured
            if isinstance(one.measurement.observed, LinkFacts)
        ),
        None,
    )
    down, up = _carried(record, Direction.DOWN), _carried(record, Direction.UP)
    if link is None or (down is None and up is None):
        return None
    return LaptopCheck(
        device_id=device_id,
        checked=now.astimezone(UTC).isoformat(timespec="seconds"),
        interface=link.interface,
        medium=link.medium,
        speed_bps=link.speed_bps,
        bus_bps=link.bus_bps,
        down_bps=down,
        up_bps=up,
        server=record.server.id if record.server else None,
    )


def _carried(record: Record, direction: Direction) -> float | None:
    rates = [
        one.statistics.goodput_bps
        for one in record.measured
        if isinstance(one.statistics, ThroughputStatistics)
        and one.measurement.direction is direction
        and one.measurement.state is State.COMPLETE
        and one.statistics.goodput_bps is not None
    ]
    return max(rates, default=None)


def _rate(bits: float | None) -> str:
    return "nothing" if bits is None else f"{bits / MEGA:.0f} Mbit/s"
