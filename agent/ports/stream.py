"""Bulk flows: each carries bodies over one connection on its own; the probe only looks on."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from enum import StrEnum
from typing import Protocol

from agent.clock import ManualClock
from agent.codec.card import UploadReceipt
from agent.errors import CannotMeasure
from agent.measurements import Direction, TcpCounters


class FlowPhase(StrEnum):
    """How far a flow has come."""

    OPENING = "opening"
    READY = "ready"
    RUNNING = "running"
    ENDED = "ended"


@dataclass(frozen=True, slots=True, kw_only=True)
class FlowOrder:
    """One flow to open.

    `body_bytes` is the length of each upload body (None: as the rate asks), or the exact length
    that every download must announce (None: any length of at least `least_bytes`). Bodies follow
    each other until the flow is finished.
    """

    direction: Direction
    url: str
    token: str | None = field(default=None, repr=False)
    body_bytes: int | None = None
    least_bytes: int = 1_000_000


@dataclass(frozen=True, slots=True, kw_only=True)
class FlowReading:
    """A glance at a flow.

    `bytes` is the payload that has arrived: here when down, at the far end when up (None where
    this system does not tell what was acknowledged); `by_answers` says that it is bodies which a
    server answered whole. `first_byte_s` is on the monotonic clock.
    """

    phase: FlowPhase
    bytes: int | None = 0
    first_byte_s: float | None = None
    fault: CannotMeasure | None = None
    by_answers: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class FlowFacts:
    """What stays the same over the life of a connection.

    `header_bytes` is IP and TCP header with options of a full segment.
    """

    remote: str
    family: int
    secure: bool = False
    congestion_control: str | None = None
    header_bytes: int | None = None
    mtu_bytes: int | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class FlowEnd:
    """What was left to learn once a flow had ended.

    `receipt` is the far end's own account of all bodies on one time scale, `server_bytes` its
    count of them, None where it gave none. `answered_early` says that an upload was answered before
    its body had arrived.
    """

    server_bytes: int | None = None
    receipt: UploadReceipt | None = None
    answered_early: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Usage:
    """Running totals: of the whole interface each way, of this process.

    `waited_s` is for how long its threads that still live were ready and got no processor.
    """

    received_bytes: int | None = None
    sent_bytes: int | None = None
    processor_s: float = 0.0
    waited_s: float | None = None
    received_packets: int | None = None
    sent_packets: int | None = None


class Flow(Protocol):
    """One connection that carries bodies on its own; no method but `finish` waits."""

    def begin(self) -> None:
        """Start the bodies; before that the open connection stays idle, from then on it runs."""
        ...

    def reading(self) -> FlowReading:
        """Return how far the flow has come."""
        ...

    def counters(self, at_s: float) -> TcpCounters | None:
        """Return the kernel's counters, labelled with the time given; None where there are none."""
        ...

    def facts(self) -> FlowFacts | None:
        """Return what the connection is; None until it is open."""
        ...

    def stop(self, within_s: float) -> None:
        """End the bodies now; the far end may say what it got for as long as given."""
        ...

    def finish(self) -> FlowEnd:
        """Close the connection, waiting no longer than `stop` allowed; after `stop` only."""
        ...


class StreamPort(Protocol):
    """Opens bulk flows over the tested line."""

    def open(self, order: FlowOrder, *, within_s: float) -> Flow:
        """Begin to open a connection and return at once; its reading tells when it is ready."""
        ...

    def usage(self) -> Usage:
        """Return running totals of interface and process."""
        ...


@dataclass
class ScriptedFlow:
    """A flow whose arrivals are a function of the seconds since it began."""

    clock: ManualClock
    arrived: Callable[[float], int | None]
    order: FlowOrder
    opens_after_s: float = 0.05
    first_after_s: float = 0.02
    fault: CannotMeasure | None = None
    fault_after_s: float | None = None
    opening_fault: CannotMeasure | None = None
    end: FlowEnd = FlowEnd()
    about: FlowFacts = FlowFacts(remote="203.0.113.10", family=4, header_bytes=52, mtu_bytes=1500)
    asked_s: float = 0.0
    began_s: float | None = None
    by_answers: bool = False
    stopped: bool = False
    finished: bool = False

    def __post_init__(self) -> None:
        self.asked_s = self.clock.now_s

    def begin(self) -> None:
        """Start the script's clock."""
        self.began_s = self.clock.now_s

    def reading(self) -> FlowReading:
        """Return what the script says for this moment."""
        if self.clock.now_s - self.asked_s < self.opens_after_s:
            return FlowReading(phase=FlowPhase.OPENING)
        if self.opening_fault is not None:
            return FlowReading(phase=FlowPhase.ENDED, fault=self.opening_fault)
        if self.began_s is None:
            return FlowReading(phase=FlowPhase.READY)
        return self._running(self.clock.now_s - self.began_s, self.began_s)

    def _running(self, since_s: float, began_s: float) -> FlowReading:
        dead_s = self.fault_after_s
        broken = dead_s is not None and since_s >= dead_s
        seen_s = dead_s if broken and dead_s is not None else since_s
        came = self.arrived(max(0.0, seen_s - self.first_after_s))
        return FlowReading(
            phase=FlowPhase.ENDED if broken else FlowPhase.RUNNING,
            bytes=came,
            first_byte_s=began_s + self.first_after_s if came else None,
            fault=self.fault if broken else None,
            by_answers=self.by_answers,
        )

    def counters(self, at_s: float) -> TcpCounters | None:
        """Return a reading with nothing but its time."""
        return TcpCounters(at_s=at_s)

    def facts(self) -> FlowFacts | None:
        """Return the scripted facts."""
        return self.about

    def stop(self, within_s: float) -> None:  # noqa: ARG002 - the script needs no time
        """Mark the flow stopped."""
        self.stopped = True

    def finish(self) -> FlowEnd:
        """Mark the flow finished."""
        self.finished = self.stopped
        return self.end


@dataclass
class ScriptedStreams:
    """A fake port: the script makes each flow from its number and order."""

    clock: ManualClock
    make: Callable[[int, FlowOrder], ScriptedFlow]
    flows: list[ScriptedFlow] = field(default_factory=list)

    def open(self, order: FlowOrder, *, within_s: float) -> Flow:  # noqa: ARG002 - see above
        """Return the script's next flow."""
        flow = self.make(len(self.flows), order)
        self.flows.append(flow)
        return flow

    def usage(self) -> Usage:
        """Return totals that grow with the manual time: a tenth of one processor."""
        return Usage(received_bytes=0, sent_bytes=0, processor_s=self.clock.now_s / 10)
