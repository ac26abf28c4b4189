"""The targets that were asked for, and how the network lets the laptop out to them."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from agent.assessment.evidence import Item
from agent.diagnosis.facts import Facts
from agent.measurements import HttpStatistics, Kind, WebAccessStatistics

LEAST_SITES = 2
"""Fewer say nothing of the way: one site may be down, changed or portal itself."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Page:
    """One target that was asked for."""

    item: Item
    told: HttpStatistics

    @property
    def site(self) -> str:
        """Return the host, which stands for an independent site."""
        return self.told.host or self.item.id

    @property
    def dead(self) -> bool:
        """Tell whether nothing of it came that another rule could explain."""
        met = self.told.answered or self.told.intercepted or self.told.certificate_fault
        return not met


def pages(facts: Facts) -> tuple[Page, ...]:
    """Return every target that was asked for."""
    found = ((i, i.http) for i in facts.evidence.select(Kind.HTTP))
    return tuple(Page(item=i, told=h) for i, h in found if h is not None and h.sent)


def access(facts: Facts) -> tuple[Item, WebAccessStatistics] | None:
    """Return what the network and the laptop say of the way out, where that was asked."""
    for item in facts.evidence.select(Kind.HTTP):
        if isinstance(item.statistics, WebAccessStatistics):
            return item, item.statistics
    return None


def sites(found: Iterable[Page]) -> set[str]:
    """Return the independent sites among pages."""
    return {p.site for p in found}
