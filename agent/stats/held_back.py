"""Octets that a lost packet held back, put where they arrived.

TCP hands data over in order. After a loss nothing comes until the gap is filled, then at once all
that had arrived meanwhile: slices are empty, and one after them holds more than the line carries.
"""

from __future__ import annotations

from collections.abc import Sequence

from agent.stats.quantiles import median, percentile
from agent.stats.slices import Slice

_USUAL_PERCENT = 80
_TOO_MUCH = 1.25
"""A slice so much above what four fifths of all hold was not carried in its own time."""

_DUST = 1e-9
_AROUND = 10
_LONGEST_HELD_S = 1.0


def as_arrived(slices: Sequence[Slice]) -> tuple[Slice, ...]:
    """Return the slices with the surplus of such slices moved into the gaps before them.

    A gap is filled to the usual rate around it, from its end, and no further back than a second;
    what finds no gap stays. No octet is lost or added, and a line without such slices stays as
    it is.
    """
    rates = [piece.octets / piece.span_s for piece in slices]
    usual = percentile(rates, _USUAL_PERCENT) or 0.0
    most = usual * _TOO_MUCH * (1 + _DUST)
    surplus = [i for i, rate in enumerate(rates) if rate > most]
    if not surplus:
        return tuple(slices)
    octets: list[float] = [piece.octets for piece in slices]
    for i in surplus:
        around = median(rates[max(0, i - _AROUND) : i + _AROUND + 1]) or 0.0
        _pay_back(slices, octets, i, min(usual, around))
    return tuple(Slice(p.begin_s, p.end_s, n) for p, n in zip(slices, octets, strict=True))


def _pay_back(slices: Sequence[Slice], octets: list[float], at: int, level: float) -> None:
    surplus = octets[at] - level * slices[at].span_s
    octets[at] -= surplus
    for j in range(at - 1, -1, -1):
        if surplus <= 0 or slices[at].begin_s - slices[j].end_s > _LONGEST_HELD_S:
            break
        paid = min(surplus, max(0.0, level * slices[j].span_s - octets[j]))
        octets[j] += paid
        surplus -= paid
    octets[at] += surplus
