"""What time does to a lease, whichever system told it."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime

from agent.measurements import LeaseFacts


def aged(facts: LeaseFacts, now: datetime) -> LeaseFacts:
    """Return a lease with what is left of it; one that is over, though held, is expired.

    Where the kernel counts the validity itself the address leaves with its lease.
    """
    if facts.origin != "dhcp" or facts.left_s is not None or facts.expires is None:
        return facts
    left = (datetime.fromisoformat(facts.expires) - now).total_seconds()
    if left > 0:
        return replace(facts, left_s=left)
    return replace(facts, state="expired", expired_s=-left)
