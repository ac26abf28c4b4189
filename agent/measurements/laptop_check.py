"""What a laptop and its adapter once carried on the bench, where no line stood between."""

from __future__ import annotations

from dataclasses import dataclass

from agent.measurements.link import LinkFacts, Medium


@dataclass(frozen=True, slots=True, kw_only=True)
class LaptopCheck:
    """One self-check: goodput of each direction in bit/s of TCP payload, and with what adapter.

    `checked` is when it was made (RFC 3339, UTC), `age_days` how long before the visit that was.
    `server` is who it was made against. A direction that was not carried is None.
    """

    device_id: str
    checked: str
    interface: str
    medium: Medium
    speed_bps: int | None = None
    bus_bps: int | None = None
    down_bps: float | None = None
    up_bps: float | None = None
    server: str | None = None
    age_days: float | None = None

    def is_of(self, link: LinkFacts) -> bool:
        """Tell whether it speaks of a port as that is now: same adapter, same speeds."""
        of = (self.interface, self.medium, self.speed_bps, self.bus_bps)
        return of == (link.interface, link.medium, link.speed_bps, link.bus_bps)
