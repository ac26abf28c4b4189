"""Round trips per minute under load (IETF draft "Responsiveness under Working Conditions").

An adaptation: the draft times its loaded probes on the connections that carry the load. Here the
delay series beside them stands for those, a flow of its own: it sees the queues of the line, and
neither those inside the sender's TCP nor those a router keeps for each flow.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence

from agent.measurements import EchoOutcome, EchoSeries, Responsiveness, WebAttempt
from agent.stats.quantiles import mean

MS_PER_MINUTE = 60_000
KEPT_SHARE = 0.95


def trimmed_mean(values: Sequence[float], share: float = KEPT_SHARE) -> float | None:
    """Return the mean without the largest values past `share` of them; None for no values.

    The draft's TM ("Aggregating the Measurements"): one-sided, at the 95th percentile.
    """
    kept = math.ceil(share * len(values) - 1e-9)
    return mean(sorted(values)[:kept])


def per_minute(ms: float | None) -> float | None:
    """Return how often something of a duration in ms happens in a minute; None where undefined."""
    return MS_PER_MINUTE / ms if ms is not None and ms > 0 else None


def foreign_rpm(tcp_ms: float | None, tls_ms: float | None, http_ms: float | None) -> float | None:
    """Return the round trips per minute of connections of their own.

    `tls_ms` is per round trip of the handshake (one in TLS 1.3, RFC 8446 §2), and None where there
    was no TLS: it then takes no part, rather than part as a zero.
    """
    if tcp_ms is None or http_ms is None:
        return None
    return per_minute(mean([part for part in (tcp_ms, tls_ms, http_ms) if part is not None]))


def combined_rpm(foreign: float | None, loaded: float | None) -> float | None:
    """Return the mean of the two rates (of the rates, not of the times); None without both."""
    return None if foreign is None or loaded is None else (foreign + loaded) / 2


def responsiveness(series: EchoSeries) -> Responsiveness | None:
    """Return the responsiveness of a loaded series, None where nothing was fetched beside it.

    Lost probes have no time and take no part; the loss stands beside the figure.
    """
    if series.load == "none" or series.foreign is None:
        return None
    whole = [one for one in series.foreign if one.problem is None]
    tcp_ms = trimmed_mean(_known(one.connect_ms for one in whole))
    tls_ms = trimmed_mean(_known(one.tls_ms for one in whole))
    http_ms = trimmed_mean(_known(one.first_byte_ms for one in whole))
    trips = _answered(series)
    loaded_ms = trimmed_mean(trips)
    foreign = foreign_rpm(tcp_ms, tls_ms, http_ms)
    loaded = per_minute(loaded_ms)
    return Responsiveness(
        rpm=combined_rpm(foreign, loaded),
        foreign_rpm=foreign,
        loaded_rpm=loaded,
        tcp_ms=tcp_ms,
        tls_ms=tls_ms,
        http_ms=http_ms,
        loaded_ms=loaded_ms,
        foreign_sent=len(series.foreign),
        foreign_count=_complete(whole),
        loaded_count=len(trips),
    )


def _known(values: Iterable[float | None]) -> list[float]:
    return [value for value in values if value is not None]


def _answered(series: EchoSeries) -> list[float]:
    pairs = zip(series.rtt_ms, series.outcome, strict=True)
    return [rtt for rtt, outcome in pairs if rtt is not None and outcome is EchoOutcome.ANSWERED]


def _complete(attempts: Iterable[WebAttempt]) -> int:
    return sum(one.connect_ms is not None and one.first_byte_ms is not None for one in attempts)
