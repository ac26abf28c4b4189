"""The sustained rate of a transfer from its slices: the one figure on which its end also rests."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from agent.stats.held_back import as_arrived
from agent.stats.looks import look_confidence
from agent.stats.mean_rate import MeanRate, mean_rate
from agent.stats.slices import Slice, last_of, running_rates
from agent.stats.stages import PLATEAU_S, brought_nothing, plateau
from agent.stats.steady import steady_from

LEAST_USED_S = 2.2
"""A shorter steady part does not end a transfer early: other traffic pauses that long by chance.

A line that is calm for so long, and was never as fast before, cannot be told from a steady one."""

_LEAST_HELD = 0.7
"""Of the time since the line first was as fast: where it fell back for longer, and there was no
burst, it is not steady, however even the end of it looks."""

_LEAST_USED = 0.6
"""Of the time that all flows ran: where more was cut, and no burst, the line is not yet known."""

_NOTHING = 0.01
_MOST_BEFORE = 0.8
_MOST_AFTER = 0.2
_BURST_ABOVE = 1.05
_BURST_SLICES = 10
_HELD_SLICES = 5
_FALLEN = 0.5
_DUST = 1e-5
_SEGMENT_BYTES = 1460


@dataclass(frozen=True, slots=True, kw_only=True)
class Sustained:
    """Octets per second over `used`, the steady part; `before` came earlier.

    `full_s` is how long all flows ran.
    """

    full_s: float
    mean: MeanRate
    before: tuple[Slice, ...]
    used: tuple[Slice, ...]

    @property
    def used_s(self) -> float:
        """Return the length of the steady part in seconds."""
        return self.used[-1].end_s - self.used[0].begin_s

    def _least_s(self) -> float:
        """Return how long a steady part makes up for what was cut for no known reason."""
        if self.burst is not None:
            return LEAST_USED_S
        return max(LEAST_USED_S, _LEAST_USED * self.full_s, _LEAST_HELD * self._held_s())

    def _held_s(self) -> float:
        """Return how long ago the line first was as fast, where it clearly fell back since; or 0.

        As fast: a running rate inside the range of the steady part; clearly: below that range by
        half of it, so that lumps alone are no fall.
        """
        whole, size = self.before + self.used, min(_HELD_SLICES, len(self.used))
        steady = running_rates(self.used, size)
        least = min(steady) * (1 - _DUST)
        fallen = least - _FALLEN * (max(steady) - least) - _DUST * least
        rates = running_rates(whole, size)
        first = next(i for i, rate in enumerate(rates) if rate >= least)
        fell = any(rate < fallen for rate in rates[first : len(self.before)])
        return whole[-1].end_s - whole[first].begin_s if fell else 0.0

    @property
    def burst(self) -> float | None:
        """Return the highest rate before the steady part where it clearly exceeds all of it."""
        if not self.before:
            return None
        size = min(_BURST_SLICES, len(self.before), len(self.used))
        early, steady = max(running_rates(self.before, size)), max(running_rates(self.used, size))
        return early if early > steady * _BURST_ABOVE else None

    def within(self, precision: float) -> bool:
        """Return whether the interval reaches no further than `precision` of the mean each way."""
        mean = self.mean
        if mean.low is None or mean.high is None or self.used_s < self._least_s():
            return False
        furthest = max(mean.high - mean.rate, mean.rate - mean.low)
        return mean.rate > 0 and furthest <= precision * mean.rate


def sustained(
    slices: Sequence[Slice],
    flows: Sequence[int],
    *,
    longest_s: float | None,
    early: bool,
    confidence: float,
    opening_s: float = 0.0,
) -> Sustained | None:
    """Return the sustained rate and its interval; None for no slices.

    `flows` tells how many flows ran in each slice: only those with all of them count, and the
    plateau of the stage before where the last flows brought nothing. `longest_s`
    is how long the transfer might have lasted when its interval could end it, None where its length
    was fixed; `early` says that the interval did (or would) end it. See `steady_from` for
    `opening_s`.
    """
    slices = as_arrived(slices)
    first, last = _all_flows(slices, flows)
    first -= _alike(slices[:first], slices[first:last])
    full = _without_stub(slices[first:last])
    if not full:
        return None
    cut = steady_from(full, opening_s)
    if longest_s is not None:
        confidence = look_confidence(slices[-1].end_s, longest_s, confidence, early=early)
    mean = mean_rate(full[cut:], _SEGMENT_BYTES, confidence)
    assert mean is not None
    return Sustained(
        full_s=full[-1].end_s - full[0].begin_s,
        mean=mean,
        before=tuple(slices[: first + cut]),
        used=tuple(full[cut:]),
    )


def _all_flows(slices: Sequence[Slice], flows: Sequence[int]) -> tuple[int, int]:
    """Return the bounds without the ends where flows were still being added or already closing."""
    if len(flows) != len(slices) or not flows:
        return 0, len(slices)
    most = max(flows)
    first = next(i for i, n in enumerate(flows) if n == most)
    last = next(i for i, n in enumerate(reversed(flows)) if n == most)
    spare_first, spare_last = int(len(flows) * _MOST_BEFORE), int(len(flows) * _MOST_AFTER)
    return min(first, spare_first), max(len(flows) - min(last, spare_last), 1)


def _alike(before: Sequence[Slice], after: Sequence[Slice]) -> int:
    """Return how many slices of the stage before tell the same as those with all flows."""
    if not before or not brought_nothing(plateau(before), plateau(after), _NOTHING):
        return 0
    return len(last_of(before, PLATEAU_S))


def _without_stub(slices: Sequence[Slice]) -> Sequence[Slice]:
    """Drop a last slice of less than half the usual length: its edge weighs too much."""
    if len(slices) > 1 and slices[-1].span_s < slices[0].span_s / 2:
        return slices[:-1]
    return slices
