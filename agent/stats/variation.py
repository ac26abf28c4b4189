"""Delay variation of a stream of delays: PDV, IPDV and the jitter of RTP."""

from __future__ import annotations

from collections.abc import Sequence

from agent.measurements.delay_figures import Variation
from agent.stats import quantiles, sequences

_P95_COUNT = quantiles.count_for_percentile(0.95)
_P99_COUNT = quantiles.count_for_percentile(0.99)


def variation(delays: Sequence[float | None], arrivals: Sequence[int]) -> Variation | None:
    """Return the variation of delays in ms, None for a loss; None where fewer than two are known.

    `delays` are in sending order; a constant offset of clocks changes no figure (RFC 5481 §4.1).
    `arrivals` lists positions in `delays` in order of arrival, which RTP's jitter follows.
    """
    above = [d for d in sequences.pdv(delays) if d is not None]
    if len(above) < 2:
        return None
    steps = [d for d in sequences.ipdv(delays) if d is not None]
    return Variation(
        count=len(above),
        pdv_p95_ms=quantiles.percentile(above, 95) if len(above) >= _P95_COUNT else None,
        pdv_p99_ms=quantiles.percentile(above, 99) if len(above) >= _P99_COUNT else None,
        pdv_max_ms=max(above),
        pairs=len(steps),
        ipdv_min_ms=quantiles.smallest(steps),
        ipdv_median_ms=quantiles.median(steps),
        ipdv_max_ms=quantiles.largest(steps),
        ipdv_mean_size_ms=quantiles.mean([abs(step) for step in steps]),
        jitter_ms=sequences.interarrival_jitter([delays[n] for n in arrivals]),
    )
