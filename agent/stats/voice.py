"""What a telephone call over the line would be like: the E-model, an estimate and no verdict.

The simplified ITU-T G.107 for default terminals. Its constants and those of G.113 are from memory;
none was checked against the Recommendations.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from agent.measurements.delay_figures import VoiceEstimate
from agent.stats.quantiles import count_for_percentile, smallest

DEFAULT_R = 93.2
"""ITU-T G.107 §7.7, from memory: the rating with every parameter at its default."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Codec:
    """A codec's impairment without loss and its robustness to loss (G.113 Appendix I)."""

    name: str
    impairment: float
    robustness: float


G711_CONCEALED = Codec(name="G.711 with concealment", impairment=0.0, robustness=25.1)
PACKET_MS, BUFFER_MS = 20.0, 60.0
"""Voice in one packet, and the fixed buffer that takes up variation: common practice, no source."""

_ENOUGH = count_for_percentile(0.95)


def mos_of(r: float) -> float:
    """Return the mean opinion score of a rating (G.107 Annex B), not under 1."""
    if r >= 100:
        return 4.5
    return max(1.0, 1 + 0.035 * r + r * (r - 60) * (100 - r) * 7e-6) if r > 0 else 1.0


def delay_impairment(one_way_ms: float) -> float:
    """Return Id: 0.024 d + 0.11 (d - 177.3) beyond 177.3 ms (G.107 §7.4 simplified)."""
    return 0.024 * one_way_ms + 0.11 * max(0.0, one_way_ms - 177.3)


def loss_impairment(loss_percent: float, codec: Codec, burst_ratio: float = 1.0) -> float:
    """Return Ie-eff = Ie + (95 - Ie) Ppl / (Ppl / BurstR + Bpl) (G.107 §7.5)."""
    weight = loss_percent / (loss_percent / burst_ratio + codec.robustness)
    return codec.impairment + (95 - codec.impairment) * weight


def rating(
    one_way_ms: float, loss_percent: float, codec: Codec = G711_CONCEALED, burst_ratio: float = 1.0
) -> float:
    """Return R = 93.2 - Id - Ie-eff, without any advantage factor, not under 0 (G.107 §7.1)."""
    lost = loss_impairment(loss_percent, codec, burst_ratio)
    return max(0.0, DEFAULT_R - delay_impairment(one_way_ms) - lost)


def burst_ratio(bursts: Sequence[int], loss: float) -> float:
    """Return BurstR: the mean run of losses against that of independent losses, 1 / (1 - loss).

    G.107 §7.5; not under 1, since a few short runs by chance are no better than independence.
    """
    if not bursts or loss >= 1:
        return 1.0
    return max(1.0, sum(bursts) / len(bursts) * (1 - loss))


def voice_estimate(
    answers: Sequence[float],
    loss: tuple[float, float, float] | None,
    bursts: Sequence[int],
) -> VoiceEstimate | None:
    """Return R and MOS with their range; None without a loss ratio or with under 59 answers.

    `answers` are round trips in ms, `loss` the ratio with its bounds. One way is taken as half the
    least round trip, plus the voice of a packet, plus the buffer; what comes later than the buffer
    allows counts as lost. Variation and loss of both ways together are laid on the one: cautious.
    The range is that of the loss ratio alone.
    """
    least = smallest(answers)
    if loss is None or least is None or len(answers) < _ENOUGH:
        return None
    too_late = sum(rtt - least > BUFFER_MS for rtt in answers) / len(answers)
    one_way_ms = least / 2 + PACKET_MS + BUFFER_MS
    ratio_of_runs = burst_ratio(bursts, loss[0])
    middle, best, worst = (
        rating(one_way_ms, 100 * (lost + (1 - lost) * too_late), burst_ratio=ratio_of_runs)
        for lost in loss
    )
    return VoiceEstimate(
        codec=G711_CONCEALED.name,
        packet_ms=PACKET_MS,
        buffer_ms=BUFFER_MS,
        one_way_ms=one_way_ms,
        discarded_ratio=too_late,
        burst_r=ratio_of_runs,
        r=middle,
        r_low=worst,
        r_high=best,
        mos=mos_of(middle),
        mos_low=mos_of(worst),
        mos_high=mos_of(best),
    )
