"""A delay series reduced: loss with direction, round trips, delay variation, order."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass

from agent.measurements import DelayStatistics, EchoOutcome, EchoSeries, RoundTrip
from agent.measurements.delay_figures import LossBounds, Reordering, Variation, VoiceEstimate
from agent.stats import quantiles, sequences
from agent.stats.bursts import bursty_interval, stated_interval
from agent.stats.proportions import ratio, wilson
from agent.stats.reordering import reordering
from agent.stats.responsiveness import responsiveness
from agent.stats.tied_quantiles import tied_interval
from agent.stats.variation import variation
from agent.stats.voice import voice_estimate
from agent.units import MS_PER_S

_P95_COUNT = quantiles.count_for_percentile(0.95)
_P99_COUNT = quantiles.count_for_percentile(0.99)


def round_trip(answers: Sequence[float], lost: int = 0) -> RoundTrip:
    """Return the order statistics of answers in ms, with `lost` further ones infinitely late.

    Percentiles and median count the lost as infinite (RFC 2681 §4) and are None where that makes
    them so; minimum, mean and maximum are of the answers. The 95th and 99th percentile need 59
    and 299 values, so that the largest value bounds them with 95 % confidence.
    """
    sample = [*answers, *([math.inf] * lost)]
    return RoundTrip(
        count=len(answers),
        min=quantiles.smallest(answers),
        median=quantiles.finite(quantiles.median(sample)),
        mean=quantiles.mean(answers),
        p95=_percentile(sample, 95, _P95_COUNT),
        p99=_percentile(sample, 99, _P99_COUNT),
        max=quantiles.largest(answers),
    )


def delay_statistics(series: EchoSeries, confidence: float = 0.95) -> DelayStatistics:
    """Return the statistics of a delay series.

    A late answer is a loss: the waiting time is part of the metric (RFC 7680 §2.2). Probes that
    never left are not counted as sent. Where the far end limits its answers, a missing one says
    nothing: no loss is stated then, and delays are of the answers alone.
    """
    probes = _sent(series)
    answers = [p.rtt_ms for p in probes if p.answered and p.rtt_ms is not None]
    missing = sum(not p.answered for p in probes)
    lost = 0 if series.answers_limited else missing
    trips = round_trip(answers, lost)
    sample = _sample(series, probes)
    middle = _bounds(sample, 0.5, confidence)
    high = _bounds(sample, 0.95, confidence)
    missed = [not p.answered for p in probes]
    both = _share(None if series.answers_limited else missed, confidence)
    forward, backward = _ways(series, probes, confidence)
    bursts = () if series.answers_limited else sequences.burst_lengths(missed)
    return DelayStatistics(
        sent=len(probes),
        received=len(probes) - missing,
        late=sum(p.late for p in probes),
        duplicates=sum(max(0, copies - 1) for copies in series.copies),
        reordered=len(sequences.reordered(series.arrival_order)),
        loss_ratio=both.ratio,
        loss_low=both.low,
        loss_high=both.high,
        rtt_ms=trips,
        median_low_ms=middle[0],
        median_high_ms=middle[1],
        p95_low_ms=high[0],
        p95_high_ms=high[1],
        pdv_ms=_variation(trips),
        bursts=bursts,
        forward_loss_ratio=forward.ratio,
        forward_low=forward.low,
        forward_high=forward.high,
        backward_loss_ratio=backward.ratio,
        backward_low=backward.low,
        backward_high=backward.high,
        backward_sent=backward.of,
        responsiveness=responsiveness(series),
        load=series.load,
        confidence=confidence,
        loss_bounds=both.bounds,
        forward_bounds=forward.bounds,
        backward_bounds=backward.bounds,
        gaps=() if series.answers_limited else sequences.gap_lengths(missed),
        variation=variation(_on_time(series, series.rtt_ms), series.arrival_order),
        forward_variation=_way_variation(series, series.forward_ms, series.far_order),
        backward_variation=_way_variation(series, series.backward_ms, series.arrival_order),
        reordering=_answers_order(series),
        far_reordering=_far_order(series),
        backward_reordering=_order_back(series),
        duplication_ratio=sequences.duplication_fraction(series.copies),
        replicated_ratio=sequences.replicated_rate(series.copies),
        far_duplication_ratio=_of_far(sequences.duplication_fraction, series),
        far_replicated_ratio=_of_far(sequences.replicated_rate, series),
        voice=_voice(answers, both, bursts),
    )


def rise_ms(idle: DelayStatistics, loaded: DelayStatistics) -> float | None:
    """Return what load adds to delay: its 95th percentile less the idle median, ms.

    None where either is undefined. Below zero where the line was quicker under load than idle.
    """
    if loaded.rtt_ms.p95 is None or idle.rtt_ms.median is None:
        return None
    return loaded.rtt_ms.p95 - idle.rtt_ms.median


@dataclass(frozen=True, slots=True)
class _Share:
    """A loss ratio with its interval and the number it is of; all None where unknown."""

    ratio: float | None = None
    low: float | None = None
    high: float | None = None
    of: int | None = None
    bounds: LossBounds | None = None


def _share(lost: Sequence[bool] | None, confidence: float) -> _Share:
    """Return the share of losses whose order of sending is known."""
    if not lost:
        return _Share()
    plain = wilson(sum(lost), len(lost), confidence)
    bursty, stated = bursty_interval(lost, confidence), stated_interval(lost, confidence)
    if plain is None or bursty is None or stated is None:
        return _Share()
    bounds = LossBounds(
        independent_low_ratio=plain[0],
        independent_high_ratio=plain[1],
        bursty_low_ratio=bursty[0],
        bursty_high_ratio=bursty[1],
    )
    return _Share(ratio(sum(lost), len(lost)), *stated, len(lost), bounds)


def _counted_share(counted: tuple[int, int] | None, confidence: float) -> _Share:
    """Return the share of losses that are only counted: nothing tells of runs among them."""
    bounds = wilson(*counted, confidence) if counted else None
    if counted is None or bounds is None:
        return _Share()
    return _Share(ratio(*counted), bounds[0], bounds[1], counted[1])


def _ways(series: EchoSeries, probes: Sequence[_Probe], confidence: float) -> tuple[_Share, _Share]:
    """Return the losses there and back: probe by probe where known, else by the far end's count."""
    if series.answers_limited or not probes:
        return _Share(), _Share()
    if all(p.arrived is not None for p in probes):
        there = [p.arrived is False for p in probes]
        back = [not p.answered for p in probes if p.arrived]
        return _share(there, confidence), _share(back, confidence)
    arrived = _arrivals(series, probes)
    forward = _counted_share(_forward(probes, arrived), confidence)
    return forward, _counted_share(_backward(probes, arrived), confidence)


def _on_time(series: EchoSeries, delays: Sequence[float | None]) -> list[float | None]:
    """Return delays in sending order, a late answer's as that of a loss (RFC 7680 §2.2)."""
    answered = EchoOutcome.ANSWERED
    return [d if o is answered else None for d, o in zip(delays, series.outcome, strict=True)]


def _way_variation(
    series: EchoSeries, delays: Sequence[float | None] | None, order: Sequence[int] | None
) -> Variation | None:
    """Return one way's variation; without an order of arrival there is no jitter of RTP.

    A step of a clock while the series ran would pass for variation: none is stated then.
    """
    if delays is None or series.clock_steps:
        return None
    return variation(_on_time(series, delays), order or ())


def _answers_order(series: EchoSeries) -> Reordering | None:
    """Return the order of the answers, timed by when each came: sent plus round trip."""
    known = (series.rtt_ms[n] for n in series.arrival_order)
    at_ms = [
        None if rtt is None else series.sent_s[n] * MS_PER_S + rtt
        for n, rtt in zip(series.arrival_order, known, strict=True)
    ]
    return reordering(series.arrival_order, at_ms)


def _far_order(series: EchoSeries) -> Reordering | None:
    """Return the order of arrival there, by its log, else by its own numbers on the answers."""
    if series.far_order is not None:
        return reordering(series.far_order)
    if series.far_count is None:
        return None
    numbered = [(count, n) for n, count in enumerate(series.far_count) if count is not None]
    return reordering([n for _, n in sorted(numbered)])


def _order_back(series: EchoSeries) -> Reordering | None:
    """Return the order of the answers by the far end's own numbers: that of the way back alone."""
    if series.far_count is None:
        return None
    numbers = [series.far_count[n] for n in series.arrival_order]
    return reordering([number for number in numbers if number is not None])


def _of_far(figure: Callable[[Sequence[int]], float | None], series: EchoSeries) -> float | None:
    return None if series.far_copies is None else figure(series.far_copies)


def _voice(answers: Sequence[float], loss: _Share, bursts: Sequence[int]) -> VoiceEstimate | None:
    if loss.ratio is None or loss.low is None or loss.high is None:
        return None
    return voice_estimate(answers, (loss.ratio, loss.low, loss.high), bursts)


def _sample(series: EchoSeries, probes: Sequence[_Probe]) -> list[float]:
    """Return round trips in sending order, a loss as one without end (RFC 2681 §4)."""
    lost = () if series.answers_limited else (math.inf,)
    return [
        value
        for p in probes
        for value in ((p.rtt_ms,) if p.answered and p.rtt_ms is not None else lost)
    ]


def _bounds(
    sample: Sequence[float], share: float, confidence: float
) -> tuple[float | None, float | None]:
    found = tied_interval(sample, share, confidence)
    return (quantiles.finite(found[0]), quantiles.finite(found[1])) if found else (None, None)


@dataclass(frozen=True, slots=True)
class _Probe:
    """One probe that left: its answer, and whether it is known to have arrived far away."""

    answered: bool
    late: bool
    rtt_ms: float | None
    arrived: bool | None


def _sent(series: EchoSeries) -> list[_Probe]:
    return [
        _Probe(
            answered=outcome is EchoOutcome.ANSWERED,
            late=outcome is EchoOutcome.LATE,
            rtt_ms=series.rtt_ms[number],
            arrived=_arrived(series, number),
        )
        for number, outcome in enumerate(series.outcome)
        if outcome is not EchoOutcome.UNSENT
    ]


def _arrived(series: EchoSeries, number: int) -> bool | None:
    """Tell whether a probe reached the far end; an answer of any kind says that it did."""
    if series.outcome[number] in (EchoOutcome.ANSWERED, EchoOutcome.LATE):
        return True
    told = series.far_received
    return told[number] if told is not None and number < len(told) else None


def _arrivals(series: EchoSeries, probes: Sequence[_Probe]) -> int | None:
    """Return how many probes reached the far end.

    Without a word on every unanswered probe a split would favour one direction, unless the far
    end's own count says how many there were.
    """
    known = sum(p.arrived is True for p in probes)
    if all(p.arrived is not None for p in probes):
        return known
    told = series.far_arrivals
    return told if told is not None and known <= told <= len(probes) else None


def _forward(probes: Sequence[_Probe], arrived: int | None) -> tuple[int, int] | None:
    return None if arrived is None or not probes else (len(probes) - arrived, len(probes))


def _backward(probes: Sequence[_Probe], arrived: int | None) -> tuple[int, int] | None:
    """Count answers missing among the probes that reached the far end."""
    return (arrived - sum(p.answered for p in probes), arrived) if arrived else None


def _percentile(sample: Sequence[float], percent: float, needed: int) -> float | None:
    if len(sample) < needed:
        return None
    return quantiles.finite(quantiles.percentile(sample, percent))


def _variation(trips: RoundTrip) -> float | None:
    """Return the 95th percentile of PDV: D(95) - D(min) (RFC 5481 §4.2)."""
    return None if trips.p95 is None or trips.min is None else trips.p95 - trips.min
