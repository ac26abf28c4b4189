"""Reaching one port once: a connection or a datagram, with a hop limit where one is given."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Protocol

from agent.clock import ManualClock
from agent.measurements import ReachOutcome, Transport


@dataclass(frozen=True, slots=True, kw_only=True)
class ReachOrder:
    """What to try: `asks` has the far end say how it sees this laptop, where it can."""

    transport: Transport
    address: str
    port: int
    within_s: float
    hop_limit: int | None = None
    asks: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class ReachAnswer:
    """What came of it; the fields are those of `PortAttempt`."""

    outcome: ReachOutcome
    rtt_ms: float | None = None
    answered_by: str | None = None
    icmp_type: int | None = None
    icmp_code: int | None = None
    own_address: str | None = None
    own_port: int | None = None
    seen_address: str | None = None
    seen_port: int | None = None


class ReachPort(Protocol):
    """Makes attempts; may be called by several threads at once."""

    @property
    def limits_hops(self) -> bool:
        """Tell whether this system says which router a hop limit ran out at."""
        ...

    def attempt(self, order: ReachOrder) -> ReachAnswer:
        """Make one attempt within its time; raises nothing of the network's."""
        ...


@dataclass
class ScriptedReach:
    """A fake: the script says what each order meets; silence takes its whole time."""

    clock: ManualClock
    script: Callable[[ReachOrder], ReachAnswer]
    limits_hops: bool = True
    orders: list[ReachOrder] = field(default_factory=list)

    def attempt(self, order: ReachOrder) -> ReachAnswer:
        """Return the script's answer."""
        self.orders.append(order)
        return self.script(order)
