"""Queries to one resolver reduced: answers, times, and what it does to names that do not exist."""

from __future__ import annotations

import math
from collections import Counter
from typing import Any

from agent.measurements import (
    ABSENT_LABEL,
    DnsStatistics,
    NameCheck,
    NameOutcome,
    NamePurpose,
    NameQueries,
)
from agent.stats import name_checks, quantiles
from agent.stats.delay import round_trip
from agent.stats.name_checks import NO_ERROR, NO_SUCH_NAME, came, of
from agent.stats.quantiles import median_of_known

_NEVER_EXISTS = ".invalid"
"""RFC 6761 §6.4: names under it are never delegated."""


def dns_statistics(queries: NameQueries, confidence: float = 0.95) -> DnsStatistics:
    """Return the statistics of one resolver; a query without an answer took for ever.

    Names that were made up to be absent miss every cache, as no user's do: they count as answered
    or not, and are left out of the times.
    """
    answered = [i for i in range(len(queries.outcome)) if _answered(queries, i)]
    asked = [i for i in range(len(queries.outcome)) if not _absent(queries.name[i])]
    times = [t for i in asked if i in answered and (t := queries.rtt_ms[i]) is not None]
    lost = len(asked) - len(times)
    trips = round_trip(times, lost)
    middle = _median_interval(times, lost, confidence)
    return DnsStatistics(
        sent=len(queries.outcome),
        answered=len(answered),
        min_ms=trips.min,
        median_ms=trips.median,
        median_low_ms=middle[0],
        median_high_ms=middle[1],
        p95_ms=trips.p95,
        errors=_errors(queries),
        rewrites_nxdomain=_rewrites(queries, answered),
        validates=_validates(queries, answered),
        transport=queries.transport,
        place=queries.place,
        setup_ms=median_of_known(queries.setup_ms),
        problem=next((p for p in queries.problem if p), None),
        foreign=sum(queries.foreign) + sum(c.foreign for c in queries.checks),
        **_families(queries, answered),
        **_shown(queries),
    )


def _families(queries: NameQueries, answered: list[int]) -> dict[str, Any]:
    asked = {i for i, qtype in enumerate(queries.qtype) if qtype == "AAAA"}
    return {"aaaa_sent": len(asked), "aaaa_answered": len(asked.intersection(answered))}


def _shown(queries: NameQueries) -> dict[str, Any]:
    """Return what the queries beside the series show."""
    extended = of(queries, NamePurpose.EXTENDED)
    return {
        "tcp": came(of(queries, NamePurpose.TCP, NamePurpose.LARGE_TCP), _settles),
        "extended": came(extended, _settles),
        "extends": came(
            name_checks.answers(queries, NamePurpose.EXTENDED),
            lambda c: c.offered_bytes is not None,
        ),
        "offered_bytes": max((c.offered_bytes or 0 for c in extended), default=0) or None,
        "cuts": name_checks.truncates(queries),
        "large": name_checks.large_comes(queries),
        "large_tcp": name_checks.large_over_tcp(queries),
        "signed": name_checks.signed_validated(queries),
        "signed_refused": name_checks.signed_refused(queries),
        "refuses_bogus": name_checks.bogus_refused(queries),
        "private": name_checks.private_answers(queries),
        "same": name_checks.same_answers(queries),
        "extended_errors": name_checks.extended_errors(queries),
    }


def _settles(check: NameCheck) -> bool:
    return check.rcode is not None


def _absent(name: str) -> bool:
    return name.startswith(ABSENT_LABEL)


def _answered(queries: NameQueries, query: int) -> bool:
    code = queries.rcode[query] if query < len(queries.rcode) else None
    usable = code in (None, NO_ERROR, NO_SUCH_NAME)
    return queries.outcome[query] is NameOutcome.ANSWERED and usable


def _median_interval(
    times: list[float], lost: int, confidence: float
) -> tuple[float | None, float | None]:
    sample = [*times, *([math.inf] * lost)]
    bounds = quantiles.quantile_interval(sample, 0.5, confidence)
    return (quantiles.finite(bounds[0]), quantiles.finite(bounds[1])) if bounds else (None, None)


def _errors(queries: NameQueries) -> tuple[tuple[str, int], ...]:
    kinds = Counter(
        _kind(queries, i) for i in range(len(queries.outcome)) if not _answered(queries, i)
    )
    return tuple(sorted(kinds.items()))


def _kind(queries: NameQueries, query: int) -> str:
    outcome = queries.outcome[query]
    if outcome is not NameOutcome.ANSWERED:
        return outcome.value
    return f"rcode-{queries.rcode[query]}"


def _rewrites(queries: NameQueries, answered: list[int]) -> bool | None:
    """Tell whether an address came for a name that cannot exist; None where none was asked."""
    asked = [i for i in answered if queries.name[i].rstrip(".").lower().endswith(_NEVER_EXISTS)]
    if not asked:
        return None
    return any(queries.rcode[i] == NO_ERROR and queries.addresses[i] for i in asked)


def _validates(queries: NameQueries, answered: list[int]) -> bool | None:
    told = [
        queries.authenticated[i]
        for i in answered
        if i < len(queries.authenticated) and queries.authenticated[i] is not None
    ]
    return any(told) if told else None
