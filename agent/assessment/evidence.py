"""All measurements of a visit with their statistics, asked by kind, role and direction."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

from agent.measurements import (
    DelayStatistics,
    Direction,
    DnsStatistics,
    EchoSeries,
    HttpStatistics,
    Kind,
    LeaseStatistics,
    LinkStatistics,
    Measurement,
    PathStatistics,
    Reason,
    Role,
    State,
    Statistics,
    ThroughputStatistics,
)


@dataclass(frozen=True, slots=True)
class Item:
    """One measurement beside its statistics."""

    measurement: Measurement
    statistics: Statistics | None

    @property
    def id(self) -> str:
        """Return the measurement's id."""
        return self.measurement.id

    @property
    def partial(self) -> bool:
        """Tell whether the measurement was cut short."""
        return self.measurement.state is State.PARTIAL

    @property
    def delay(self) -> DelayStatistics | None:
        """Return the statistics of a delay series, None for anything else."""
        return self.statistics if isinstance(self.statistics, DelayStatistics) else None

    @property
    def path(self) -> PathStatistics | None:
        """Return the statistics of a hop walk, None for anything else."""
        return self.statistics if isinstance(self.statistics, PathStatistics) else None

    @property
    def dns(self) -> DnsStatistics | None:
        """Return the statistics of a resolver, None for anything else."""
        return self.statistics if isinstance(self.statistics, DnsStatistics) else None

    @property
    def http(self) -> HttpStatistics | None:
        """Return the statistics of a web target, None for anything else."""
        return self.statistics if isinstance(self.statistics, HttpStatistics) else None

    @property
    def throughput(self) -> ThroughputStatistics | None:
        """Return the statistics of a transfer, None for anything else."""
        return self.statistics if isinstance(self.statistics, ThroughputStatistics) else None

    @property
    def lease(self) -> LeaseStatistics | None:
        """Return the statistics of a lease, None for anything else."""
        return self.statistics if isinstance(self.statistics, LeaseStatistics) else None

    @property
    def link(self) -> LinkStatistics | None:
        """Return the statistics of a port, None for anything else."""
        return self.statistics if isinstance(self.statistics, LinkStatistics) else None


@dataclass(frozen=True, slots=True)
class Evidence:
    """The items of one visit in the order they were measured."""

    items: tuple[Item, ...]

    @classmethod
    def of(
        cls, measurements: Sequence[Measurement], statistics: Mapping[str, Statistics | None]
    ) -> Evidence:
        """Return the evidence of measurements and their statistics by id."""
        return cls(tuple(Item(m, statistics.get(m.id)) for m in measurements))

    def select(
        self, kind: Kind, role: Role | None = None, direction: Direction | None = None
    ) -> Iterator[Item]:
        """Yield the items of a kind; of one role or direction where given."""
        for item in self.items:
            told = item.measurement
            right_role = role is None or told.role is role
            right_way = direction is None or told.direction is direction
            if told.kind is kind and right_role and right_way:
                yield item

    def first(
        self, kind: Kind, role: Role | None = None, direction: Direction | None = None
    ) -> Item | None:
        """Return the first item that has statistics, else the first of its kind, else None."""
        found = list(self.select(kind, role, direction))
        full = (item for item in found if item.statistics is not None)
        return next(full, found[0] if found else None)

    def idle_delay(self, role: Role) -> Item | None:
        """Return the delay series to a role while the agent itself was silent.

        Of several, by one means after the other, the first that was answered; long probes are
        another matter.
        """
        found = [i for i in self.select(Kind.DELAY, role) if not _is_long(i)]
        full = [i for i in found if i.delay is not None and i.delay.load == "none"]
        answered = (i for i in full if i.delay is not None and i.delay.received)
        failed = (i for i in found if i.delay is None)
        return next(answered, full[0] if full else next(failed, None))

    def long_delay(self, role: Role) -> Item | None:
        """Return the series of long probes to a role, where it was answered."""
        found = (i for i in self.select(Kind.DELAY, role) if _is_long(i))
        return next((i for i in found if i.delay is not None and i.delay.received), None)

    def loaded_delay(self, role: Role, direction: Direction) -> Item | None:
        """Return the series to a role that ran while a direction was filled, the longest."""
        found = (i for i in self.select(Kind.DELAY, role) if i.delay is not None)
        ran = (i for i in found if i.delay is not None and i.delay.load == direction.value)
        return max(ran, key=lambda item: item.delay.received if item.delay else 0, default=None)

    def link_statistics(self) -> LinkStatistics | None:
        """Return the statistics of the port under test."""
        item = self.first(Kind.LINK)
        return item.link if item else None

    def answers(self, role: Role) -> bool:
        """Tell whether any delay probe to a role was answered."""
        return any(i.delay is not None and i.delay.received for i in self.select(Kind.DELAY, role))

    def server_reached(self) -> bool:
        """Tell whether anything came back from the operator's server by any means."""
        moved = any(
            i.throughput is not None and i.throughput.bytes for i in self.select(Kind.THROUGHPUT)
        )
        walked = any(
            i.path is not None and i.path.reached for i in self.select(Kind.PATH, Role.SERVER)
        )
        return moved or walked or self.answers(Role.SERVER)

    def web_reached(self) -> int:
        """Return how many web targets answered."""
        return sum(i.http is not None and i.http.answered > 0 for i in self.select(Kind.HTTP))

    def near_addresses(self) -> frozenset[str]:
        """Return the addresses on this side of the line: own, the gateway's, the first hop's."""
        held = [i.lease for i in self.select(Kind.LEASE) if i.lease is not None]
        own = {a for lease in held for a in (lease.address, lease.gateway) if a}
        gateways = {i.measurement.address for i in self.select(Kind.DELAY, Role.GATEWAY) if i.delay}
        walks = (i.path for i in self.select(Kind.PATH) if i.path is not None)
        first = {a for p in walks for h in p.hops if h.distance == 1 for a in h.addresses}
        return frozenset(own | first | {g for g in gateways if g})

    def hops_beyond(self) -> bool:
        """Tell whether anything but the near equipment answered a walk."""
        near = self.near_addresses()
        walks = (i.path for i in self.select(Kind.PATH) if i.path is not None)
        return any(a not in near for p in walks for h in p.hops for a in h.addresses)

    def resolvers(self) -> tuple[Item, ...]:
        """Return the line's resolvers that were asked; encrypted ones are no part of the line."""
        asked = ((i, i.dns) for i in self.select(Kind.DNS) if i.dns is not None)
        return tuple(i for i, dns in asked if dns.sent and dns.transport == "udp")

    def far_resolver_answers(self) -> bool:
        """Tell whether a resolver beyond the near equipment answered."""
        near = self.near_addresses()
        return any(
            i.dns is not None and i.dns.answered and i.measurement.address not in near
            for i in self.select(Kind.DNS)
        )

    def beyond_by_address(self) -> bool:
        """Tell whether anything past the near equipment answered, names aside."""
        near = self.answers(Role.FIRST_HOP) or self.answers(Role.OUTSIDE)
        far = self.server_reached() or self.web_reached() > 0 or self.far_resolver_answers()
        return near or far or self.hops_beyond()


def _is_long(item: Item) -> bool:
    observed = item.measurement.observed
    return isinstance(observed, EchoSeries) and observed.long


def why_missing(item: Item | None, kind: Kind, *, planned: bool) -> Reason:
    """Return the reason for a criterion without its measurement."""
    if item is None:
        cause = "not-measured" if planned else "not-in-plan"
        return Reason(code="not-measured", values={"kind": kind.value, "cause": cause})
    told = item.measurement.reason or Reason(code="empty")
    code = "cut-short" if item.partial else "not-measured"
    return Reason(code=code, values={**told.values, "kind": kind.value, "cause": told.code})
