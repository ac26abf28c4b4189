"""Names for the addresses of a hop walk, looked up after it and beside what comes next."""

from __future__ import annotations

import queue
import threading
from collections.abc import Sequence
from ipaddress import ip_address

from agent.clock import Timeline
from agent.errors import DoorstepError
from agent.measurements import NameOutcome
from agent.ports.names import NamesPort
from agent.ports.running import Running

AT_ONCE = 8
MOST_ADDRESSES = 64
TRY_S = 0.5
"""How long one resolver is waited for."""

RESOLVERS = 2
"""How many of the line's resolvers are asked for one name."""

EXCHANGE_BYTES = 250
"""About what a query and its answer take, headers included."""


class NameSearch:
    """Asks for the names of addresses in the background (PTR, RFC 1035 §3.5, RFC 3596 §2.5).

    What has not come `within_s` after the start is left out; nothing waits longer for it.
    """

    def __init__(
        self,
        names: NamesPort,
        resolvers: Sequence[str],
        addresses: Sequence[str],
        *,
        timeline: Timeline,
        within_s: float,
        running: Running,
    ) -> None:
        self._names = names
        self._resolvers = tuple(resolvers)[:RESOLVERS]
        self._timeline = timeline
        self._deadline_s = timeline.now_s() + within_s
        self._running = running
        self._lock = threading.Lock()
        self._found: dict[str, str] = {}
        self._open: queue.SimpleQueue[str] = queue.SimpleQueue()
        asked = (a for a in dict.fromkeys(addresses) if _question(a) is not None)
        wanted = tuple(asked)[:MOST_ADDRESSES] if self._resolvers else ()
        for address in wanted:
            self._open.put(address)
        self._threads = [
            threading.Thread(target=self._work, name="hop names", daemon=True)
            for _ in wanted[:AT_ONCE]
        ]
        for thread in self._threads:
            thread.start()

    def found(self) -> tuple[tuple[str, str], ...]:
        """Return pairs of address and name, waiting no longer than the deadline."""
        for thread in self._threads:
            thread.join(max(0.0, self._left_s()))
        with self._lock:
            return tuple(sorted(self._found.items()))

    def _work(self) -> None:
        while self._left_s() > 0 and not self._running.stopped():
            try:
                address = self._open.get_nowait()
            except queue.Empty:
                return
            name = self._name(address)
            if name:
                with self._lock:
                    self._found[address] = name

    def _name(self, address: str) -> str | None:
        question = _question(address) or ""
        for resolver in self._resolvers:
            within_s = min(TRY_S, self._left_s())
            if within_s <= 0:
                break
            try:
                answer = self._names.query(resolver, question, "PTR", within_s)
            except DoorstepError:
                continue
            self._running.used(EXCHANGE_BYTES)
            if answer.outcome is NameOutcome.ANSWERED:
                return answer.names[0] if answer.names else None
        return None

    def _left_s(self) -> float:
        return self._deadline_s - self._timeline.now_s()


def _question(address: str) -> str | None:
    """Return the name that holds the names of an address, None for what is no address."""
    try:
        return ip_address(address.partition("%")[0]).reverse_pointer
    except ValueError:
        return None
