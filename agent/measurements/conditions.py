"""What surrounded the measurements: the state of laptop and port before, during and after."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from agent.measurements.clock import ClockExchange
from agent.measurements.link import Medium


class Phase(StrEnum):
    """When the conditions were read."""

    BEFORE = "before"
    DURING = "during"
    AFTER = "after"


@dataclass(frozen=True, slots=True, kw_only=True)
class Conditions:
    """One reading; None = this system did not tell.

    `other_traffic_bps` is interface traffic beyond the agent's own, bit/s. Rates and shares cover
    the time from `since_s` to `at_s`: `cpu_ratio` is the busy share of all processors, 0 to 1,
    `core_ratios` that of each, `steal_ratio` what a hypervisor withheld of all, `process_ratio` the
    processor time of this program over wall time. `egress` is the interface the system would use
    towards the server; `tested_line` whether that is the interface under test. `unverified_system`
    names the operating system where this program was never tried on a real one.

    `clock_offset_ms` is how far a time server's clock is ahead of this laptop's, wrong by at most
    `clock_unsure_ms`; `clock` is the exchange it comes from. `power_saver` says what keeps the
    laptop slow, "none" where nothing does. `memory_free_ratio` is the share of memory that
    programs could still get. `bus_bps` is the rate of the USB bus that the adapter hangs on.
    `carrier_changes` counts how often the port's link came or went since the port exists, `errors`
    the frames that it received or sent in error.
    """

    phase: Phase
    at_s: float
    medium: Medium | None = None
    speed_bps: int | None = None
    duplex: str | None = None
    tunnel: str | None = None
    egress: str | None = None
    tested_line: bool | None = None
    other_traffic_bps: float | None = None
    cpu_ratio: float | None = None
    on_battery: bool | None = None
    clock_offset_ms: float | None = None
    virtual_machine: bool | None = None
    injected: tuple[str, ...] = ()
    since_s: float | None = None
    core_ratios: tuple[float, ...] = ()
    steal_ratio: float | None = None
    process_ratio: float | None = None
    unverified_system: str | None = None
    clock: ClockExchange | None = None
    clock_unsure_ms: float | None = None
    power_saver: str | None = None
    memory_free_ratio: float | None = None
    bus_bps: int | None = None
    carrier_changes: int | None = None
    errors: int | None = None

    @property
    def busiest_core_ratio(self) -> float | None:
        """Return the busy share of the busiest processor, None where they were not told apart."""
        return max(self.core_ratios, default=None)
