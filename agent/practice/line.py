"""The practice line as it is ordered: tier, true rates, delay, loss, seed, faults."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from enum import StrEnum

from agent.errors import UsageError
from agent.practice.beyond import BeyondSpec
from agent.practice.homes import HOMES, PLAIN
from agent.practice.path import LEAST_MTU_BYTES, PathSpec
from agent.practice.products import Product

HANDOVERS = ("dhcp", "pppoe", "static")
SHALLOWEST_QUEUE_MS = 100.0
QUEUE_ROUND_TRIPS = 4
PROVISIONED = 1.1
"""Common practice, no source: operators shape some way above the tier they sell."""


class Severity(StrEnum):
    """How hard a fault strikes."""

    LIGHT = "light"
    MEDIUM = "medium"
    SEVERE = "severe"


@dataclass(frozen=True, slots=True, kw_only=True)
class FaultChoice:
    """A fault of the catalogue by name, and how hard it strikes."""

    name: str
    severity: Severity = Severity.MEDIUM

    @classmethod
    def parse(cls, text: str) -> FaultChoice:
        """Return the choice written as NAME or NAME:SEVERITY. Raises UsageError."""
        name, _, severity = text.partition(":")
        try:
            return cls(name=name, severity=Severity(severity) if severity else Severity.MEDIUM)
        except ValueError as error:
            raise UsageError(
                problem=f"There is no severity {severity!r}.",
                remedy=f"Choose one of: {', '.join(Severity)}.",
            ) from error


@dataclass(frozen=True, slots=True, kw_only=True)
class LineSpec:
    """One practice line.

    Rates are bit/s at the `frame` layer (1514 bytes for a 1500-byte packet), `down_bps` and
    `up_bps` those of the tier; the line is shaped at `provisioned` times them, unless
    `line_down_bps` or `line_up_bps` say otherwise. Delays are ms; `rtt_ms` is what the access
    line adds to a round trip, half each way. `jitter_ms` is the mean of an exponential extra
    delay that keeps the order. Losses, `reorder` and `duplicate` are ratios of IP packets each
    way; `burst` is the mean length of a run of losses in packets (1 = independent). A reordered
    packet is held for `reorder_ms`. `buffer_ms` is the depth of the queue in front of the line,
    None takes one that suits the round trip.
    The line is dark for `dark_s` again and again, after `dark_every_s` of light on average, both
    seconds; 0 is never.
    `hops` is the number of core routers, `path` what the routers do besides forwarding, `beyond`
    what the operator's network and server do. `products` are those of the catalogue below this
    tier, highest first, as the network would be set to them.
    With `ipv6` every link has IPv6 too, and the home router advertises it to the laptop; `home` is
    one of `agent.practice.homes.HOMES` and may ask for it.
    `real_servers` False keeps to the small built-in servers and plain routing.
    """

    tier: str = "100/20"
    down_bps: int = 100_000_000
    up_bps: int = 20_000_000
    provisioned: float = PROVISIONED
    line_down_bps: int | None = None
    line_up_bps: int | None = None
    rtt_ms: float = 10.0
    jitter_ms: float = 0.0
    loss_down: float = 0.0
    loss_up: float = 0.0
    burst: float = 1.0
    reorder: float = 0.0
    reorder_ms: float = 2.0
    duplicate: float = 0.0
    buffer_ms: float | None = None
    hops: int = 1
    seed: int = 1
    handover: str = "dhcp"
    congestion: str | None = None
    real_servers: bool = True
    faults: tuple[FaultChoice, ...] = ()
    path: PathSpec = field(default_factory=PathSpec)
    ipv6: bool = False
    home: str = PLAIN
    dark_s: float = 0.0
    dark_every_s: float = 0.0
    beyond: BeyondSpec = field(default_factory=BeyondSpec)
    products: tuple[Product, ...] = ()

    def __post_init__(self) -> None:
        ratios = (self.loss_down, self.loss_up, self.reorder, self.duplicate)
        _require(all(0 <= ratio < 1 for ratio in ratios), "Ratios must lie in [0, 1).")
        _require(
            min(self.shaped_down_bps, self.shaped_up_bps) >= 10_000, "Rates start at 10 kbit/s."
        )
        _require(self.rtt_ms >= 0 and self.jitter_ms >= 0, "Delays cannot be negative.")
        _require(self.dark_s >= 0, "A line cannot be dark for less than no time.")
        _require(not self.dark_s or self.dark_every_s > 0, "Between outages a line has light.")
        _require(self.beyond.can_be_played(), "The operator's network cannot be played so.")
        _require(self.burst >= 1, "The mean run of losses is at least 1 packet.")
        _require(1 <= self.hops <= 20, "Between 1 and 20 core hops are played.")
        _require(self.home in HOMES, f"The home is one of {', '.join(HOMES)}.")
        ends = HOMES[self.home].routers + 1 + self.hops
        _require(self.path.highest() <= ends, "The path ends before that distance.")
        narrow = self.path.narrow
        _require(narrow is None or narrow.at >= 2, "The laptop's own link is not narrowed.")
        _require(
            narrow is None or LEAST_MTU_BYTES <= narrow.mtu_bytes <= 1500,
            f"A link takes packets of {LEAST_MTU_BYTES} to 1500 octets.",
        )
        _require(self.handover in HANDOVERS, f"The handover is one of {', '.join(HANDOVERS)}.")

    def at_home(self) -> LineSpec:
        """Return the line with what its home brings: IPv6, or another handover."""
        home = HOMES[self.home]
        _require(not self.ipv6 or bool(home.routers), "At the modem only IPv4 is played.")
        handover = home.handover or self.handover
        return replace(self, ipv6=self.ipv6 or home.ipv6, handover=handover)

    @property
    def shaped_down_bps(self) -> int:
        """Return the rate that the line is shaped at, bit/s of frames towards the home."""
        return self.line_down_bps or round(self.down_bps * self.provisioned)

    @property
    def shaped_up_bps(self) -> int:
        """Return the rate that the line is shaped at, bit/s of frames from the home."""
        return self.line_up_bps or round(self.up_bps * self.provisioned)

    @property
    def queue_ms(self) -> float:
        """Return the depth of the queue in front of the line in ms at its rate.

        By default so deep that the first ramp of several flows fits: after a shallower one they
        repair holes for seconds, and what arrives in a window is not what the line carried in it
        (bare loops here, 80 ms: off by up to 9 % with 80 ms of queue, by 0.02 % with 320).
        """
        return self.buffer_ms or max(SHALLOWEST_QUEUE_MS, QUEUE_ROUND_TRIPS * self.rtt_ms)

    @property
    def frame_by_frame(self) -> bool:
        """Return whether single frames must be told apart on the line (relay mode)."""
        losses = (self.loss_down, self.loss_up, self.dark_s)
        return any((self.jitter_ms, *losses, self.reorder, self.duplicate))


def _require(holds: bool, problem: str) -> None:
    if not holds:
        raise UsageError(
            problem=problem, remedy="Give the practice line a value that can be played."
        )
