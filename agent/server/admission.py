"""Who may transfer now: as many clients as the server can serve well; others wait in their order.

A client's turn lasts over its transfers and the short gaps between them, so that one visit is not
cut in two by another. Who waits keeps a claim on seats and rates: nobody behind takes what those
ahead will use when they come back, unless a usual turn is over by then. Times are monotonic
seconds, given by the caller.
"""

from __future__ import annotations

import math
import threading
from dataclasses import dataclass, field

from agent.server.capacity import Budget
from agent.server.load import OVERHEAD, Rates
from agent.server.options import Patience
from agent.units import BITS_PER_BYTE

# How long a client's transfers usually take together, until some have been seen; only the estimate
# of a wait rests on it.
USUAL_TURN_S = 20.0
NEWEST_WEIGHT = 0.2
# A waiting client that does not ask again this long after its time has left the queue.
GRACE_S = 5.0
MAX_WAITING = 1_000
# A turn without gaps ends by refusing it more transfers, late enough never to cut a visit in two.
OVERDUE_TURNS = 2


@dataclass(slots=True)
class Moved:
    """Octets that one transfer moved; counted by its own thread, read by any."""

    down: int = 0
    up: int = 0


@dataclass(slots=True)
class _Turn:
    started_s: float
    idle_since_s: float
    need_bps: float
    open: list[Moved] = field(default_factory=list)
    ended: Moved = field(default_factory=Moved)
    before: Moved = field(default_factory=Moved)

    def moved(self) -> Moved:
        parts = (self.ended, *self.open)
        return Moved(sum(part.down for part in parts), sum(part.up for part in parts))


@dataclass(slots=True)
class _Waiting:
    expires_s: float
    need_bps: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Decision:
    """Whether one more transfer may start; where not, why and how long to wait in seconds."""

    admitted: bool
    moved: Moved = field(default_factory=Moved)
    reason: str = ""
    wait_s: float = 0.0


class Admission:
    """The turns of the clients being served and the queue of those who asked in vain."""

    def __init__(
        self, clients: int, flows: int, patience: Patience, budget: Budget | None = None
    ) -> None:
        self._clients = clients
        self._flows = flows
        self._patience = patience
        self._budget = budget or Budget()
        self._room_bps = self._budget.room_bps(0.0)
        self._usual_s = USUAL_TURN_S
        self._observed_s: float | None = None
        self._turns: dict[str, _Turn] = {}
        self._queue: dict[str, _Waiting] = {}
        self._lock = threading.Lock()

    def enter(
        self, client: str, now_s: float, *, rate_bps: float | None = None, spare: bool = True
    ) -> Decision:
        """Start one transfer of a client, or put the client into the queue.

        `rate_bps` is what the client says that its line can do. `spare` False says that the
        server's processors have nothing left for one client more.
        """
        need_bps = self._budget.need_bps(rate_bps)
        with self._lock:
            self._sweep(now_s)
            turn = self._turns.get(client)
            if turn is not None:
                return self._one_more(client, turn, need_bps, now_s, says=rate_bps is not None)
            wait_s = self._wait_s(client, need_bps, now_s, spare=spare)
            if wait_s:
                return self._enqueue(client, need_bps, now_s, wait_s)
            self._queue.pop(client, None)
            self._turns[client] = _Turn(now_s, now_s, need_bps)
            return _begun(self._turns[client])

    def leave(self, client: str, moved: Moved, now_s: float) -> None:
        """End one transfer of a client, told apart by what counts it."""
        with self._lock:
            turn = self._turns[client]
            turn.open = [other for other in turn.open if other is not moved]
            turn.ended = Moved(turn.ended.down + moved.down, turn.ended.up + moved.up)
            turn.idle_since_s = now_s

    def wait_s(
        self, client: str, now_s: float, *, rate_bps: float | None = None, spare: bool = True
    ) -> float:
        """Return how long a client would be asked to wait, without queueing it; 0 = not at all."""
        need_bps = self._budget.need_bps(rate_bps)
        with self._lock:
            self._sweep(now_s)
            if client in self._turns:
                return 0.0
            return self._wait_s(client, need_bps, now_s, spare=spare)

    def load(self, now_s: float) -> tuple[int, int]:
        """Return the transfers and the clients being served."""
        with self._lock:
            self._sweep(now_s)
            return sum(len(turn.open) for turn in self._turns.values()), len(self._turns)

    def moving(self) -> int:
        """Return how many clients have a transfer running."""
        with self._lock:
            return sum(bool(turn.open) for turn in self._turns.values())

    def promised_bps(self) -> float:
        """Return what the clients being served may use together."""
        with self._lock:
            return self._promised_bps()

    def observe(self, now_s: float) -> Rates:
        """Return what all clients moved since the call before.

        A client that is seen to use more than it was taken to need, needs what it uses.
        """
        with self._lock:
            since_s, self._observed_s = self._observed_s, now_s
            seconds = 0.0 if since_s is None else now_s - since_s
            rates = [_observe(turn, seconds) for turn in self._turns.values()]
        return Rates(
            down_bps=sum(rate.down_bps for rate in rates),
            up_bps=sum(rate.up_bps for rate in rates),
        )

    def make_room(self, others_bps: float) -> None:
        """Take account of traffic on the port that is no client's."""
        self._room_bps = self._budget.room_bps(others_bps)

    def _one_more(
        self, client: str, turn: _Turn, need_bps: float, now_s: float, *, says: bool
    ) -> Decision:
        if len(turn.open) >= self._flows:
            return Decision(admitted=False, reason="too-many-flows", wait_s=1.0)
        if self._queue and now_s - turn.started_s > OVERDUE_TURNS * self._patience.turn_s:
            return self._enqueue(client, need_bps, now_s, self._patience.hold_s)
        if says:
            turn.need_bps = max(turn.need_bps, need_bps)
        return _begun(turn)

    def _enqueue(self, client: str, need_bps: float, now_s: float, wait_s: float) -> Decision:
        if client in self._queue or len(self._queue) < MAX_WAITING:
            self._queue[client] = _Waiting(now_s + wait_s + GRACE_S, need_bps)
        return Decision(admitted=False, reason="busy", wait_s=wait_s)

    def _wait_s(self, client: str, need_bps: float, now_s: float, *, spare: bool) -> float:
        """Return 0 where there is a seat and a rate for all ahead and for this client."""
        ahead = self._ahead(client)
        place = len(ahead)
        rate_bps = need_bps + sum(waiting.need_bps for waiting in ahead)
        seats = self._clients - len(self._turns) if spare or not self._turns else 0
        left_bps = self._room_bps - self._promised_bps()
        due = [waiting.need_bps for waiting in ahead if self._is_due(waiting, now_s)]
        if len(due) < seats and need_bps + sum(due) <= left_bps:
            return 0.0
        ends = sorted((self._end_s(turn, now_s), turn.need_bps) for turn in self._turns.values())
        for end_s, freed_bps in ends:
            seats, left_bps = seats + 1, left_bps + freed_bps
            if place < seats and rate_bps <= left_bps:
                return float(max(1, math.ceil(end_s - now_s)))
        last_s = ends[-1][0] if ends else now_s
        return float(math.ceil(last_s - now_s + self._rounds(place, rate_bps) * self._usual_s))

    def _ahead(self, client: str) -> list[_Waiting]:
        names = list(self._queue)
        place = names.index(client) if client in self._queue else len(names)
        return [self._queue[name] for name in names[:place]]

    def _is_due(self, waiting: _Waiting, now_s: float) -> bool:
        """Tell whether a turn that began now may still last when a waiting client comes back."""
        return waiting.expires_s - GRACE_S <= now_s + self._usual_s + GRACE_S

    def _rounds(self, place: int, rate_bps: float) -> int:
        """Return how often all that can be served at a time must end before a client's turn."""
        by_rate = rate_bps / self._room_bps if self._room_bps > 0 else 1.0
        return max(1, place // self._clients, math.ceil(by_rate) - 1)

    def _promised_bps(self) -> float:
        return sum(turn.need_bps for turn in self._turns.values())

    def _end_s(self, turn: _Turn, now_s: float) -> float:
        if not turn.open:
            return turn.idle_since_s + self._patience.hold_s
        return max(turn.started_s + self._usual_s, now_s + 1.0)

    def _sweep(self, now_s: float) -> None:
        for client in [c for c, turn in self._turns.items() if self._is_over(turn, now_s)]:
            turn = self._turns.pop(client)
            lasted_s = turn.idle_since_s - turn.started_s + self._patience.hold_s
            self._usual_s += NEWEST_WEIGHT * (lasted_s - self._usual_s)
        for client in [c for c, waiting in self._queue.items() if waiting.expires_s < now_s]:
            del self._queue[client]

    def _is_over(self, turn: _Turn, now_s: float) -> bool:
        if turn.open:
            return False
        return self._is_spent(turn, now_s) or now_s - turn.idle_since_s > self._patience.hold_s

    def _is_spent(self, turn: _Turn, now_s: float) -> bool:
        return bool(self._queue) and now_s - turn.started_s > self._patience.turn_s


def _begun(turn: _Turn) -> Decision:
    moved = Moved()
    turn.open.append(moved)
    return Decision(admitted=True, moved=moved)


def _observe(turn: _Turn, seconds: float) -> Rates:
    moved, before = turn.moved(), turn.before
    turn.before = moved
    if seconds <= 0:
        return Rates()
    rates = Rates(
        down_bps=(moved.down - before.down) * BITS_PER_BYTE / seconds,
        up_bps=(moved.up - before.up) * BITS_PER_BYTE / seconds,
    )
    turn.need_bps = max(turn.need_bps, OVERHEAD * rates.larger_bps)
    return rates
