"""What the technician states, and what is known of the way, when a visit is judged."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from agent.measurements import LaptopCheck
from agent.settings.model import Access, Handover, PluggedInto, Purpose


@dataclass(frozen=True, slots=True, kw_only=True)
class Circumstances:
    """The stated circumstances of one visit.

    `nothing_else_on` is None where nobody said; `seen_address` is the laptop's address as the
    operator's server sees it; `interface` the port under test. `server_cards` are the documents of
    the server's card, read before and after the transfers, `card_fault` is the code of why it could
    not be read. `laptop_check` is what this laptop carried in its last own check.
    """

    purpose: Purpose = Purpose.INSTALLATION
    plugged_into: PluggedInto = PluggedInto.UNKNOWN
    access: Access = Access.UNKNOWN
    handover: Handover = Handover.DHCP
    nothing_else_on: bool | None = None
    interface: str | None = None
    seen_address: str | None = None
    server_cards: tuple[Mapping[str, object], ...] = ()
    card_fault: str | None = None
    laptop_check: LaptopCheck | None = None

    @property
    def rule(self) -> str:
        """Return the decision rule: guarded for complaints, simple otherwise (JCGM 106)."""
        return "guarded" if self.purpose is Purpose.COMPLAINT else "simple"
