"""What every measurement has in common: kind, role, time, state, reason."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from enum import StrEnum

from agent.errors import DoorstepError, printable
from agent.measurements.address import LeaseFacts
from agent.measurements.delay import EchoSeries
from agent.measurements.families import FamilyLook
from agent.measurements.link import LinkFacts
from agent.measurements.names import NameQueries
from agent.measurements.path import HopWalk
from agent.measurements.reach import ReachLook
from agent.measurements.transfer import Transfer
from agent.measurements.web import WebAccess, WebFetch

Scalar = str | int | float | bool | None
Observed = (
    LinkFacts
    | LeaseFacts
    | NameQueries
    | EchoSeries
    | HopWalk
    | WebFetch
    | Transfer
    | WebAccess
    | FamilyLook
    | ReachLook
)


class Kind(StrEnum):
    """The kinds of measurement of a visit."""

    LINK = "link"
    LEASE = "lease"
    DNS = "dns"
    DELAY = "delay"
    PATH = "path"
    HTTP = "http"
    REACH = "reach"
    THROUGHPUT = "throughput"


class Role(StrEnum):
    """What the far end of a measurement is to the line."""

    LOCAL = "local"
    GATEWAY = "gateway"
    MODEM = "modem"
    FIRST_HOP = "first-hop"
    SERVER = "server"
    OUTSIDE = "outside"
    RESOLVER = "resolver"


class Direction(StrEnum):
    """Seen from the laptop: down arrives, up leaves."""

    DOWN = "down"
    UP = "up"
    BOTH = "both"


class State(StrEnum):
    """How far a measurement got; `complete` says the attempts ran, even if all were lost."""

    COMPLETE = "complete"
    PARTIAL = "partial"
    FAILED = "failed"
    SKIPPED = "skipped"


class StampClock(StrEnum):
    """Who took the time stamps: the kernel at the socket, or this program."""

    KERNEL = "kernel"
    USER = "user"


@dataclass(frozen=True, slots=True, kw_only=True)
class Reason:
    """Why something was not measured or not judged: a code with typed values, never a text."""

    code: str
    values: Mapping[str, Scalar] = field(default_factory=dict)

    @classmethod
    def of(cls, error: DoorstepError) -> Reason:
        """Return the reason an error stands for; field values become harmless scalars."""
        return cls(code=error.code, values={k: _scalar(v) for k, v in error.fields.items()})


def _scalar(value: object) -> Scalar:
    return value if isinstance(value, int | float | bool | None) else printable(value)


@dataclass(frozen=True, slots=True, kw_only=True)
class Measurement:
    """One measurement: what was asked, when, how it ended and what was observed.

    Times are seconds from the start of the visit. `observed` is None exactly where nothing could
    be observed; `reason` is then given. A `partial` measurement has both.
    """

    kind: Kind
    role: Role
    state: State
    method: str
    started_s: float
    duration_s: float
    id: str = ""
    direction: Direction = Direction.BOTH
    family: int | None = None
    address: str | None = None
    clock: StampClock | None = None
    reason: Reason | None = None
    observed: Observed | None = None

    def __post_init__(self) -> None:
        if self.state is not State.COMPLETE and self.reason is None:
            msg = f"a {self.state} measurement of {self.kind} needs a reason"
            raise ValueError(msg)
        if self.state is State.COMPLETE and self.observed is None:
            msg = f"a complete measurement of {self.kind} has observations"
            raise ValueError(msg)
