"""Who may transfer now: a bounded number of clients, and those who wait in their order.

A client's turn lasts over its transfers and the short gaps between them, so that one visit is not
cut in two by another. Times are monotonic seconds, given by the caller.
"""

from __future__ import annotations

import math
import threading
from dataclasses import dataclass

from agent.server.options import Patience

# How long a client's transfers usually take together; only the estimate of a wait rests on it.
USUAL_TURN_S = 20.0
# A waiting client that does not ask again this long after its time has left the queue.
GRACE_S = 5.0
MAX_WAITING = 1_000


@dataclass(slots=True)
class _Turn:
    started_s: float
    flows: int
    idle_since_s: float


@dataclass(slots=True)
class _Waiting:
    expires_s: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Decision:
    """Whether one more transfer may start; where not, why and how long to wait in seconds."""

    admitted: bool
    reason: str = ""
    wait_s: float = 0.0


class Admission:
    """The turns of the clients being served and the queue of those who asked in vain."""

    def __init__(self, clients: int, flows: int, patience: Patience) -> None:
        self._clients = clients
        self._flows = flows
        self._patience = patience
        self._turns: dict[str, _Turn] = {}
        self._queue: dict[str, _Waiting] = {}
        self._lock = threading.Lock()

    def enter(self, client: str, now_s: float, *, spare: bool = True) -> Decision:
        """Start one transfer of a client, or put the client into the queue.

        `spare` False says that the server has no capacity for one client more.
        """
        with self._lock:
            self._sweep(now_s)
            turn = self._turns.get(client)
            if turn is not None:
                return self._one_more(turn)
            wait_s = self._wait_s(client, now_s, spare=spare)
            if wait_s:
                return self._enqueue(client, now_s, wait_s)
            self._queue.pop(client, None)
            self._turns[client] = _Turn(now_s, 1, now_s)
            return Decision(admitted=True)

    def leave(self, client: str, now_s: float) -> None:
        """End one transfer of a client."""
        with self._lock:
            turn = self._turns[client]
            turn.flows -= 1
            turn.idle_since_s = now_s

    def wait_s(self, client: str, now_s: float, *, spare: bool = True) -> float:
        """Return how long a client would be asked to wait, without queueing it; 0 = not at all."""
        with self._lock:
            self._sweep(now_s)
            return 0.0 if client in self._turns else self._wait_s(client, now_s, spare=spare)

    def load(self, now_s: float) -> tuple[int, int]:
        """Return the transfers and the clients being served."""
        with self._lock:
            self._sweep(now_s)
            return sum(turn.flows for turn in self._turns.values()), len(self._turns)

    def _one_more(self, turn: _Turn) -> Decision:
        if turn.flows >= self._flows:
            return Decision(admitted=False, reason="too-many-flows", wait_s=1.0)
        turn.flows += 1
        return Decision(admitted=True)

    def _enqueue(self, client: str, now_s: float, wait_s: float) -> Decision:
        if client in self._queue or len(self._queue) < MAX_WAITING:
            self._queue[client] = _Waiting(now_s + wait_s + GRACE_S)
        return Decision(admitted=False, reason="busy", wait_s=wait_s)

    def _wait_s(self, client: str, now_s: float, *, spare: bool) -> float:
        free = self._clients - len(self._turns) if spare or not self._turns else 0
        place = list(self._queue).index(client) if client in self._queue else len(self._queue)
        if place < free:
            return 0.0
        ends = sorted(self._end_s(turn, now_s) for turn in self._turns.values())
        rounds, seat = divmod(place - free, max(1, len(ends)))
        last_s = ends[seat] if ends else now_s
        return float(max(1, math.ceil(last_s - now_s + rounds * USUAL_TURN_S)))

    def _end_s(self, turn: _Turn, now_s: float) -> float:
        if not turn.flows:
            return turn.idle_since_s + self._patience.hold_s
        return max(turn.started_s + USUAL_TURN_S, now_s + 1.0)

    def _sweep(self, now_s: float) -> None:
        over = [c for c, turn in self._turns.items() if self._is_over(turn, now_s)]
        for client in over:
            del self._turns[client]
        for client in [c for c, waiting in self._queue.items() if waiting.expires_s < now_s]:
            del self._queue[client]

    def _is_over(self, turn: _Turn, now_s: float) -> bool:
        if turn.flows:
            return False
        spent = bool(self._queue) and now_s - turn.started_s > self._patience.turn_s
        return spent or now_s - turn.idle_since_s > self._patience.hold_s
