"""A search for the largest whole packet that passes to a far end and back.

Packetization-layer path MTU discovery (RFC 8899), hurried, for a visit lasts less than a minute:
where §5.1.1 has one size probed at a time, each for a PROBE_TIMER of 15 s (1 s at least), all
usual sizes are probed within one round trip, each up to four times (MAX_PROBES is 3) some round
trips apart, so that loss by chance is not taken for a limit; what lies between the largest that
passes and the next is then divided in as few rounds. There is no PMTU_RAISE_TIMER: the search is
made once. As in §4.6.2 a size that a router names is only believed once a packet of that size has
passed.

Where large packets vanish without a word, some are sent with small hop limits: the last router
that answers one has still taken it, the next has not.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from agent.measurements import MtuSearch, SizeOutcome
from agent.schedules.mtu_tries import SizeTries, SizeTry

USUAL_SIZES = {
    4: (1500, 1492, 1480, 1472, 1460, 1454, 1440, 1420, 1400, 1360, 1280, 1200, 576),
    6: (1500, 1492, 1480, 1472, 1460, 1454, 1440, 1420, 1400, 1360, 1280),
}
"""Ethernet, PPPoE (RFC 2516 §7), usual tunnels, the base of RFC 8899 §5.1.2 and the least a host
must take (RFC 1122 §3.3.2, RFC 8200 §5); 1500 is as large as is asked for."""

FIRST_SIZES = frozenset({1500, 1492, 1280})
"""Sent before all others: a router has few words to spare (RFC 1812 §4.3.2.8), and mostly one of
these already tells the rest."""

TRIES = 4
PACE_S = 0.003
"""Between two packets: 4 Mbit/s for as long as thirteen of them take."""

SHARES = 15
"""Sizes tried at once between two others."""

FARTHEST = 16
"""Hop limits tried where packets vanish."""

DISTANCE_TRIES = 2
SHORTEST_GAP_S, LONGEST_GAP_S = 0.08, 0.35
SHORTEST_WAIT_S, LONGEST_WAIT_S = 0.2, 0.6


@dataclass(frozen=True, slots=True, kw_only=True)
class SizeProbe:
    """One packet to be sent; `number` is unique over the search."""

    number: int
    size: int
    distance: int | None


Wish = tuple[float, int, int | None]
"""When a packet is due, its size and its distance."""


class MtuSchedule:
    """Says which size to send when, and credits each answer; times are seconds of a timeline.

    The search ends by `until_s`, with the limit left open between two sizes if need be.
    """

    def __init__(self, *, family: int, start_s: float, until_s: float) -> None:
        self._tries = SizeTries(family)
        self._until_s = until_s
        self._sizes: Sequence[int] = USUAL_SIZES[family]
        self._later = frozenset(self._sizes) - FIRST_SIZES
        self._start_s = start_s
        self._lost: set[int] = set()
        self._vanishing: int | None = None
        self._last_s = start_s - PACE_S
        self._over = False

    @property
    def longest_rtt_s(self) -> float | None:
        """Return the longest round trip seen."""
        return self._tries.longest_s()

    def next_send_s(self) -> float | None:
        """Return when the next packet is due, None while only answers are waited for."""
        wish = self._wish()
        return None if wish is None else wish[0]

    def take(self, now_s: float) -> SizeProbe:
        """Return the packet that is sent now; only after `next_send_s` gave a time."""
        wish = self._wish()
        assert wish is not None
        _, size, distance = wish
        self._last_s = now_s
        self._tries.all.append(SizeTry(size, distance, now_s))
        return SizeProbe(number=len(self._tries.all) - 1, size=size, distance=distance)

    def on_sent(self, number: int, at_s: float) -> None:
        """Note when a packet really left."""
        self._tries.all[number].sent_s = at_s

    def on_unsent(self, number: int) -> None:
        """Leave a packet that the system did not take for a lost one."""

    def on_held_back(self, number: int) -> None:
        """Note that the own port is too small for a packet."""
        self._tries.all[number].outcome = SizeOutcome.HELD_BACK

    def on_answer(self, number: int, at_s: float) -> None:
        """Note that a packet came back whole."""
        one = self._tries.all[number]
        if one.outcome is SizeOutcome.LOST:
            one.outcome, one.rtt_s = SizeOutcome.ANSWERED, at_s - one.sent_s

    def on_passed(self, number: int, at_s: float, by: str | None) -> None:
        """Note that a router at the packet's own distance took it and sent its word."""
        one = self._tries.all[number]
        if one.outcome is SizeOutcome.LOST and one.distance is not None:
            one.outcome, one.rtt_s, one.answered_by = SizeOutcome.PASSED, at_s - one.sent_s, by

    def on_refusal(self, number: int | None, by: str | None, named: int | None) -> None:
        """Note that a router returned a packet as too big; `number` None where it did not quote it.

        Then it is one of those larger than the size it names.
        """
        numbers = [number] if number is not None else self._tries.outstanding(named or 0)
        if number is None and not named:
            return
        for one in numbers:
            size = self._tries.refuse(one, by, named)
            if size is not None and size not in self._sizes:
                self._sizes = (*self._sizes, size)

    def patience_ends_s(self) -> float:
        """Return when the silence of what is under way has been waited for."""
        waits = [self._gives_up_s(size) for size in self._open_sizes()]
        waits += [self._last_try_s(self._vanishing, d) + self._wait_s() for d in self._unheard()]
        return min(self._until_s, max(waits, default=self._last_s))

    def finished(self, now_s: float) -> bool:
        """Tell whether the search is over; begins its next round where one has ended."""
        while not self._over and self._round_ended(now_s):
            self._settle()
        return (self._over and not self._locating(now_s)) or now_s >= self._until_s

    def search(self, *, now_s: float, target: str, protocol: str, header_bytes: int) -> MtuSearch:
        """Return one entry for each packet, nothing known of the far end."""
        tries = self._tries.all
        return MtuSearch(
            target=target,
            protocol=protocol,
            header_bytes=header_bytes,
            waiting_s=self._wait_s(),
            size_bytes=tuple(t.size for t in tries),
            distance=tuple(t.distance for t in tries),
            sent_s=tuple(t.sent_s for t in tries),
            rtt_ms=tuple(None if t.rtt_s is None else t.rtt_s * 1000 for t in tries),
            outcome=tuple(self._outcome(t, now_s) for t in tries),
            far_received=(None,) * len(tries),
            refused_by=tuple(t.refused_by for t in tries),
            named_bytes=tuple(t.named for t in tries),
            answered_by=tuple(t.answered_by for t in tries),
        )

    def _outcome(self, one: SizeTry, now_s: float) -> SizeOutcome:
        lost = one.outcome is SizeOutcome.LOST
        return SizeOutcome.OPEN if lost and now_s < one.sent_s + self._wait_s() else one.outcome

    def _wish(self) -> Wish | None:
        wishes = [*self._size_wishes(), *self._distance_wishes()]
        return min(wishes, key=lambda wish: wish[0], default=None)

    def _size_wishes(self) -> list[Wish]:
        found: list[Wish] = []
        for size in self._open_sizes():
            sent = [t.sent_s for t in self._tries.whole_way(size)]
            if len(sent) < TRIES:
                since_s = sent[-1] if sent else self._start_s
                waits = bool(sent) or size in self._later
                due_s = since_s + self._gap_s() if waits else self._last_s
                found.append((max(due_s, self._last_s + PACE_S), size, None))
        return found

    def _distance_wishes(self) -> list[Wish]:
        if self._vanishing is None:
            return []
        found: list[Wish] = []
        for distance in self._unheard():
            sent = self._sent_to(self._vanishing, distance)
            if len(sent) < DISTANCE_TRIES:
                due_s = sent[-1] + self._gap_s() if sent else self._last_s
                found.append((max(due_s, self._last_s + PACE_S), self._vanishing, distance))
        return found

    def _open_sizes(self) -> list[int]:
        """Return the sizes of this round of which nothing is known yet, largest first."""
        if self._over:
            return []
        low = self._tries.answered() or 0
        high = min(self._lost, default=None)
        return [
            size
            for size in sorted(self._sizes, reverse=True)
            if size > low and (high is None or size < high) and not self._tries.refused(size)
        ]

    def _round_ended(self, now_s: float) -> bool:
        return all(now_s >= self._gives_up_s(size) for size in self._open_sizes())

    def _gives_up_s(self, size: int) -> float:
        sent = [t.sent_s for t in self._tries.whole_way(size)]
        if not sent:
            return self._until_s
        left = TRIES - len(sent)
        return sent[-1] + left * self._gap_s() + self._wait_s()

    def _settle(self) -> None:
        """Close a round: what is still open vanished; divide what lies below it."""
        vanished = self._open_sizes()
        low = self._tries.answered()
        if low is None:
            self._over = True
            return
        self._lost.update(vanished)
        if vanished and self._vanishing is None:
            self._vanishing = min(vanished)
        high = self._high(low)
        if high is None or high == low + 1 or self._tries.named(low) == low:
            self._over = True
            return
        self._sizes = between(low, high)

    def _high(self, low: int) -> int | None:
        against = [t.size for t in self._tries.whole_way() if self._tries.refused(t.size)]
        return min((s for s in (*against, *self._lost) if s > low), default=None)

    def _unheard(self) -> list[int]:
        """Return the distances whose routers have not answered a packet that vanishes."""
        if self._vanishing is None:
            return []
        heard = {t.distance for t in self._tries.all if t.outcome is SizeOutcome.PASSED}
        return [d for d in range(1, FARTHEST + 1) if d not in heard]

    def _locating(self, now_s: float) -> bool:
        return any(
            len(self._sent_to(self._vanishing, d)) < DISTANCE_TRIES
            or now_s < self._last_try_s(self._vanishing, d) + self._wait_s()
            for d in self._unheard()
        )

    def _sent_to(self, size: int | None, distance: int) -> list[float]:
        return [t.sent_s for t in self._tries.all if (t.size, t.distance) == (size, distance)]

    def _last_try_s(self, size: int | None, distance: int) -> float:
        return max(self._sent_to(size, distance), default=self._until_s)

    def _gap_s(self) -> float:
        longest_s = self._tries.longest_s()
        if longest_s is None:
            return LONGEST_GAP_S
        return min(max(1.5 * longest_s, SHORTEST_GAP_S), LONGEST_GAP_S)

    def _wait_s(self) -> float:
        longest_s = self._tries.longest_s()
        if longest_s is None:
            return LONGEST_WAIT_S
        return min(max(2 * longest_s + 0.1, SHORTEST_WAIT_S), LONGEST_WAIT_S)


def between(low: int, high: int) -> Sequence[int]:
    """Return at most `SHARES` sizes strictly between two, evenly spread."""
    inner = high - low - 1
    count = min(SHARES, inner)
    return tuple(sorted({low + (high - low) * (i + 1) // (count + 1) for i in range(count)}))
