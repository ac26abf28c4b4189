"""Waiting on several probe sockets at once, to the microsecond where the system can."""

from __future__ import annotations

import select
import time
from collections.abc import Sequence
from typing import Protocol, runtime_checkable

from agent.ports.datagram import ProbeSocket

MOST_SELECTABLE = 1024

LOOKING_S = 0.001
"""How often sockets are looked at that the system cannot wait on; their events carry stamps."""


@runtime_checkable
class HasDescriptor(Protocol):
    """A socket that the system can wait on."""

    def fileno(self) -> int:
        """Return the descriptor that turns readable when something happened."""
        ...


def wait_together(sockets: Sequence[ProbeSocket], timeout_s: float) -> Sequence[ProbeSocket]:
    """Wait at most `timeout_s` and return the sockets on which something may have happened."""
    known = {one.fileno(): one for one in sockets if isinstance(one, HasDescriptor)}
    blind = [one for one in sockets if not isinstance(one, HasDescriptor)]
    if blind:
        timeout_s = min(timeout_s, LOOKING_S)
    if not known:
        time.sleep(max(0.0, timeout_s))
        return blind
    return [*blind, *(known[number] for number in wait_readable(list(known), timeout_s))]


def wait_readable(descriptors: Sequence[int], timeout_s: float) -> Sequence[int]:
    """Wait at most `timeout_s` and return the descriptors that are readable or have an error."""
    if max(descriptors) < MOST_SELECTABLE or not hasattr(select, "poll"):
        # Windows numbers its sockets as it likes and selects among them whatever their number.
        return select.select(descriptors, [], [], max(0.0, timeout_s))[0]
    poller = select.poll()
    for descriptor in descriptors:
        poller.register(descriptor, select.POLLIN)
    return [number for number, _ in poller.poll(max(0.0, timeout_s) * 1000)]
