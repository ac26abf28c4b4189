"""Parts of the statistics of a delay series that stand on their own."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class Variation:
    """Delay variation of one stream of delays in ms (RFC 5481); None where too few were made.

    `pdv_p95_ms` and `pdv_p99_ms` are percentiles of D(i) - D(min) over the delays known, of
    `count`. IPDV is D(i) - D(i-1), signed, of `pairs` of probes sent one after the other that both
    arrived.
    `jitter_ms` is that of RFC 3550 §6.4.1 over the delays in order of arrival.
    """

    count: int
    pdv_p95_ms: float | None = None
    pdv_p99_ms: float | None = None
    pdv_max_ms: float | None = None
    pairs: int = 0
    ipdv_min_ms: float | None = None
    ipdv_median_ms: float | None = None
    ipdv_max_ms: float | None = None
    ipdv_mean_size_ms: float | None = None
    jitter_ms: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Reordering:
    """Order of arrival of one stream (RFC 4737); figures of reordered packets None without any.

    `extent_max` (§4.2) and `late_max_ms` (§4.3) are the largest, `n_reordering_max` (§5) the most
    packets just before one that all carry larger numbers, `gap_min` (§4.5) the least distance
    between discontinuities, `free_run_max` (§4.6) the most packets in order before a reordered one.
    """

    arrived: int
    reordered: int
    ratio: float
    extent_max: int | None = None
    late_max_ms: float | None = None
    n_reordering_max: int | None = None
    gap_min: int | None = None
    free_run_max: int | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class LossBounds:
    """Bounds of a loss ratio by two models of loss.

    `independent` is Wilson's interval; `bursty` allows for losses that come in runs. With no loss
    seen the upper bound of `bursty` assumes runs that nobody saw.
    """

    independent_low_ratio: float
    independent_high_ratio: float
    bursty_low_ratio: float
    bursty_high_ratio: float


@dataclass(frozen=True, slots=True, kw_only=True)
class VoiceEstimate:
    """A call over the line by the E-model (ITU-T G.107 simplified): an estimate, no verdict.

    `r` and `mos` hold for the codec, packet and fixed buffer named; `one_way_ms` is half the least
    round trip plus both. `discarded_ratio` came later than the buffer allows and counts as lost.
    `burst_r` is BurstR, 1 for independent losses. The range is that of the loss ratio.
    """

    codec: str
    packet_ms: float
    buffer_ms: float
    one_way_ms: float
    discarded_ratio: float
    burst_r: float
    r: float
    r_low: float
    r_high: float
    mos: float
    mos_low: float
    mos_high: float
