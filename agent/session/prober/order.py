"""What the prober is asked to do, and its form on the channel between the two processes."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import asdict, dataclass, field
from typing import Any

from agent.measurements import Role
from agent.ports.binding import Binding
from agent.probes.means import WEB_PORT
from agent.settings.model import EchoPlan


@dataclass(frozen=True, slots=True, kw_only=True)
class SeriesOrder:
    """One delay series: `method` is "stamp" or the means of echo tried first; see `EchoTarget`.

    `key` is in hexadecimal digits.
    """

    role: Role
    method: str
    address: str
    family: int = 4
    port: int = 0
    ssid: int = 0
    connect_port: int = WEB_PORT
    key: str | None = field(default=None, repr=False)


@dataclass(frozen=True, slots=True, kw_only=True)
class FetchOrder:
    """Small fetches beside the series to the server; its name is not looked up again."""

    url: str
    address: str
    token: str | None = field(default=None, repr=False)
    interval_s: float = 0.2
    waiting_s: float = 3.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Order:
    """Series that begin at once and run side by side until they are told to end.

    `origin_s` is the zero of the visit's timeline on the monotonic clock, which both processes
    share; `within_s` bounds the series in any case.
    """

    origin_s: float
    binding: Binding
    load: str
    plan: EchoPlan
    within_s: float
    series: tuple[SeriesOrder, ...]
    fetch: FetchOrder | None = None


def document_of(order: Order) -> dict[str, Any]:
    """Return an order as JSON values."""
    return {
        "origin_s": order.origin_s,
        "binding": asdict(order.binding),
        "load": order.load,
        "plan": order.plan.model_dump(),
        "within_s": order.within_s,
        "series": [asdict(one) for one in order.series],
        "fetch": asdict(order.fetch) if order.fetch else None,
    }


def order_of(document: Mapping[str, Any]) -> Order:
    """Return the order in a document; raises KeyError, TypeError or ValueError where it is none."""
    fetch = document["fetch"]
    return Order(
        origin_s=float(document["origin_s"]),
        binding=Binding(**document["binding"]),
        load=str(document["load"]),
        plan=EchoPlan.model_validate(document["plan"]),
        within_s=float(document["within_s"]),
        series=tuple(
            SeriesOrder(**{**one, "role": Role(one["role"])}) for one in document["series"]
        ),
        fetch=FetchOrder(**fetch) if fetch else None,
    )
