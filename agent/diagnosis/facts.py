"""What the rules look at: the evidence, what was judged, and where the laptop was plugged in."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from agent.assessment.circumstances import Circumstances
from agent.assessment.evidence import Evidence, Item
from agent.assessment.model import Assessment, Criterion, FitnessFact, Verdict
from agent.assessment.profiles import Profile
from agent.diagnosis.model import Segment
from agent.diagnosis.segments import Surroundings, hop_segments
from agent.measurements import Conditions, DelayStatistics, Hop, Kind, Role, State

_FAR_FAULTS = frozenset(
    {
        "refused",
        "timed-out",
        "closed-early",
        "bad-reply",
        "tls-fault",
        "server-busy",
        "no-route",
        "malformed",
    }
)
"""Reasons for which the far end, or the way to it, answers: nothing on this laptop."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Facts:
    """The facts of one visit, asked in the rules' own words.

    `activation_hosts` are where the operator activates new lines, `profiles` the products that its
    lines are set to, `conditions` the readings of the laptop.
    """

    evidence: Evidence
    assessment: Assessment
    circumstances: Circumstances
    around: Surroundings
    activation_hosts: tuple[str, ...] = ()
    profiles: tuple[Profile, ...] = ()
    conditions: tuple[Conditions, ...] = ()

    @property
    def behind_home(self) -> bool:
        """Tell whether the home's own equipment stands between laptop and modem."""
        return not self.around.direct

    @property
    def gateway_segment(self) -> Segment:
        """Return the segment that ends at the gateway; the access line's in bridge mode."""
        item = self.series(Role.GATEWAY)
        return self.around.gateway_segment(item.measurement.address if item else None)

    def walked(self) -> tuple[Item, ...]:
        """Return the walks."""
        return tuple(i for i in self.evidence.select(Kind.PATH) if i.path is not None)

    def walks(self) -> Iterator[tuple[tuple[Hop, ...], tuple[Segment, ...]]]:
        """Yield the hops of each walk with their segments."""
        for item in self.walked():
            hops = item.path.hops if item.path else ()
            answered = [hop.addresses for hop in hops]
            yield hops, hop_segments(answered, self.around, item.measurement.address)

    def near_segment(self) -> Segment:
        """Return the segment that gives the laptop its address and gateway."""
        return Segment.HOME if self.behind_home else Segment.MODEM

    def fitness(self, name: str) -> FitnessFact | None:
        """Return a fitness fact where it holds."""
        return next((f for f in self.assessment.fitness if f.name == name), None)

    def criteria(self, *names: str) -> tuple[Criterion, ...]:
        """Return the criteria of the given names, in the order judged."""
        return tuple(c for c in self.assessment.criteria if c.name in names)

    def missed(self, *names: str) -> tuple[Criterion, ...]:
        """Return the criteria of the given names that are soundly below."""
        return tuple(c for c in self.criteria(*names) if c.outcome is Verdict.BELOW)

    def series(self, role: Role) -> Item | None:
        """Return the idle delay series to a role, where one was run."""
        item = self.evidence.idle_delay(role)
        return item if item is not None and item.delay is not None and item.delay.sent else None

    def sent_to(self, role: Role) -> DelayStatistics | None:
        """Return the statistics of the idle series to a role."""
        item = self.series(role)
        return item.delay if item else None

    def silent(self, role: Role) -> bool:
        """Tell whether a role was probed and never answered."""
        found = self.sent_to(role)
        return found is not None and not found.received

    def passes(self) -> bool:
        """Tell whether anything past the near equipment answered."""
        return self.evidence.beyond_by_address()

    def tried_beyond(self) -> bool:
        """Tell whether anything past the gateway was tried at all."""
        return any(
            i.measurement.state is not State.SKIPPED and i.measurement.role not in _NEAR
            for i in self.evidence.items
        )

    def server_cause(self) -> tuple[str, tuple[str, ...]] | None:
        """Return why the operator's server gave no transfer, with the evidence; None if it did.

        Where none was wanted, its card says whether it would have.
        """
        tried = [
            i
            for i in self.evidence.select(Kind.THROUGHPUT)
            if i.measurement.state is not State.SKIPPED
        ]
        if any(i.throughput is not None and i.throughput.bytes for i in tried):
            return None
        for item in tried:
            reason = item.measurement.reason
            if reason is not None and reason.code in _FAR_FAULTS:
                return reason.code, tuple(i.id for i in tried)
        fault = self.circumstances.card_fault
        return (fault, ()) if fault in _FAR_FAULTS and not tried else None

    def resolvers(self) -> tuple[Item, ...]:
        """Return the resolvers of the line that were asked, encrypted ones left out."""
        return self.evidence.resolvers()

    def is_gateway(self, address: str | None) -> bool:
        """Tell whether an address is the gateway's."""
        held = (i.lease for i in self.evidence.select(Kind.LEASE) if i.lease is not None)
        gateways = {lease.gateway for lease in held}
        gateways |= {i.measurement.address for i in self.evidence.select(Kind.DELAY, Role.GATEWAY)}
        return address is not None and address in gateways


_NEAR = (Role.LOCAL, Role.GATEWAY, Role.MODEM)
