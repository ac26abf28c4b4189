"""One visit as it stands before the judge."""

from __future__ import annotations

from dataclasses import dataclass, replace

from agent.assessment.circumstances import Circumstances
from agent.assessment.evidence import Evidence, Item, why_missing
from agent.assessment.model import Criterion, Verdict
from agent.measurements import Conditions, Kind, Medium, Reason, Role
from agent.settings.choose import limits_for
from agent.settings.model import Access, LimitSet, Plan, PluggedInto, Settings, Tier
from agent.stats.address_ranges import of_a_home


@dataclass(frozen=True, slots=True, kw_only=True)
class Case:
    """Everything a criterion may look at."""

    evidence: Evidence
    conditions: tuple[Conditions, ...]
    settings: Settings
    plan: Plan
    tier: Tier | None
    circumstances: Circumstances

    @property
    def rule(self) -> str:
        """Return the decision rule in force."""
        return self.circumstances.rule

    @property
    def access(self) -> Access:
        """Return the technology of the line: as stated, else the tier's."""
        stated = self.circumstances.access
        return stated if stated is not Access.UNKNOWN or self.tier is None else self.tier.access

    @property
    def limits(self) -> LimitSet:
        """Return the limits of this technology; those of an unknown one where it has none."""
        return limits_for(self.settings, self.access)

    @property
    def gateway_is_far(self) -> bool:
        """Tell whether the gateway is the operator's, at the far end of the line.

        So it is in a session that the laptop holds itself, and at a modem that bridges: one that
        routes is the gateway itself, by an address for use in homes or the one in the settings.
        """
        link = self.evidence.link_statistics()
        if link is not None and link.medium == Medium.PPP:
            return True
        item = self.evidence.idle_delay(Role.GATEWAY)
        address = item.measurement.address if item is not None else None
        at_modem = self.circumstances.plugged_into in (PluggedInto.MODEM, PluggedInto.ONT)
        if not at_modem or address is None or address == self.settings.line.modem_address:
            return False
        return not of_a_home(address.partition("%")[0])

    def missing(self, item: Item | None, kind: Kind) -> Reason:
        """Return why a figure of a kind is not there; a whole step may have failed as one."""
        whole = (i for i in self.evidence.select(kind) if i.statistics is None)
        found = item or next(whole, None)
        return why_missing(found, kind, planned=kind in self.plan.steps)

    def proven(self, found: Criterion, item: Item, kind: Kind) -> Criterion:
        """Return a criterion, not proven where it is met by a measurement that was cut short."""
        if found.outcome is not Verdict.MEETS or not item.partial:
            return found
        return replace(found, outcome=Verdict.NOT_PROVEN, reason=self.missing(item, kind))
