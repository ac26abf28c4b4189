"""What a visit is asked to do, settled before anything is measured."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field

from agent.measurements import Kind, LaptopCheck, Reason
from agent.record.model import Consent, Private, Reading
from agent.settings.model import Access, Handover, Plan, PluggedInto, Purpose, Settings, Tier


@dataclass(frozen=True, slots=True, kw_only=True)
class VisitRequest:
    """Everything decided before the first packet.

    `skips` names the kinds left out with the reason; `server_url` is the card's URL, or None where
    only plain transfer URLs or nothing is configured. `max_bytes` bounds what the visit moves.
    `consent` is None where nothing would fill the line. `device_id` is the laptop's own number,
    `laptop_checks` are its own checks, one of an interface, each with its age. `readings`
    were taken by hand.
    """

    settings: Settings
    settings_sha256: str
    plan: Plan
    tier: Tier | None
    access: Access
    private: Private = field(default_factory=Private)
    purpose: Purpose = Purpose.INSTALLATION
    plugged_into: PluggedInto = PluggedInto.UNKNOWN
    handover: Handover = Handover.DHCP
    spot: str | None = None
    nothing_else_on: bool | None = None
    previous: str | None = None
    interface: str | None = None
    family: str = "4"
    server_url: str | None = None
    token: str | None = None
    max_bytes: int | None = None
    consent: Consent | None = None
    device_id: str | None = None
    laptop_checks: tuple[LaptopCheck, ...] = ()
    readings: tuple[Reading, ...] = ()
    probe_offers: bool = True
    skips: dict[Kind, Reason] = field(default_factory=dict)

    def wants(self, kind: Kind) -> bool:
        """Return True where the plan has this step and nothing skips it."""
        return kind in self.plan.steps and kind not in self.skips


@dataclass(frozen=True, slots=True, kw_only=True)
class Progress:
    """What a watcher is told: the kinds now running, how long the visit still takes, bytes used.

    `waiting_s` is how long the busy server is still waited for, None where it is not.
    """

    running: tuple[Kind, ...]
    left_s: float
    bytes_used: int
    waiting_s: float | None = None


Watcher = Callable[[Progress], None]


def unwatched(_: Progress) -> None:
    """Ignore progress."""
