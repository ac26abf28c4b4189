"""Does what a checked request wants; each kind loads its own means, and no other's."""

from __future__ import annotations

from typing import Any

from agent.clock import Clock
from agent.helper.request import OffersWanted, RoutersWanted, Wanted


def serve(wanted: Wanted, clock: Clock) -> dict[str, Any]:
    """Return the answer's form.

    Raises Refusal where the port is another's, OSError for the port, ImportError without scapy.
    """
    if isinstance(wanted, OffersWanted):
        from agent.helper.frames import discover  # noqa: PLC0415 - loads scapy's callers last

        return discover(wanted, clock)
    if isinstance(wanted, RoutersWanted):
        from agent.helper.advertised import hear_routers  # noqa: PLC0415 - as above

        return hear_routers(wanted, clock)
    from agent.helper.concentrators import find_concentrators  # noqa: PLC0415 - as above

    return find_concentrators(wanted, clock)
