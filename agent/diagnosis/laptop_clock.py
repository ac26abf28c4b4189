"""Is the laptop's clock wrong? Told by the dates of several sites, and of their certificates."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta

from agent.measurements import HttpStatistics
from agent.stats.quantiles import median

RIGHT_WITHIN_S = 60.0
"""Common practice, no source: what is stamped to the minute bears this much."""

APART_S = 5.0
"""Common practice, no source: sites that keep their clocks differ by no more."""

LEAST_SITES = 2
BY_DATES, BY_CERTIFICATES = 0.9, 0.6
_DATED = ("expired", "not-yet-valid")


@dataclass(frozen=True, slots=True, kw_only=True)
class Off:
    """The clock is ahead by so many seconds (behind where negative), so these hosts say."""

    seconds: float
    hosts: frozenset[str]
    confidence: float


def off_by(told: Sequence[HttpStatistics]) -> Off | None:
    """Return how far the clock is off where several independent sites agree that it is.

    Dates in answers decide where they say anything (RFC 9110 §6.6.1). Where no site gave one, all
    secure sites must show certificates whose dates do not fit, in the same sense; that tells only
    the least that the clock can be off.
    """
    dated = {h.host: h for h in told if h.host and h.clock_ahead_s is not None}
    if dated:
        return _by_dates(list(dated.values()))
    return _by_certificates([h for h in told if h.host and h.certificate_valid is not None])


def blames_site(told: HttpStatistics, off: Off | None) -> bool:
    """Tell whether what a certificate has against it remains once the clock is put right."""
    fault = told.certificate_fault
    if fault is None or off is None or fault not in _DATED:
        return fault is not None
    if told.clock is None:
        return False
    true = datetime.fromisoformat(told.clock) - timedelta(seconds=off.seconds)
    begins, expires = _moment(told.certificate_begins), _moment(told.certificate_expires)
    early = begins is not None and true < begins
    late = expires is not None and true > expires
    return (early or late) and off.confidence >= BY_DATES


def _by_dates(told: Sequence[HttpStatistics]) -> Off | None:
    middle = median([h.clock_ahead_s or 0.0 for h in told])
    if middle is None:
        return None
    near = [h for h in told if _agrees(h, middle)]
    few = len(near) < LEAST_SITES or 2 * len(near) <= len(told)
    if few or abs(middle) <= RIGHT_WITHIN_S:
        return None
    hosts = frozenset(h.host for h in near if h.host)
    return Off(seconds=middle, hosts=hosts, confidence=BY_DATES)


def _agrees(told: HttpStatistics, middle: float) -> bool:
    unsure = (told.clock_unsure_s or 0.0) + APART_S
    return told.clock_ahead_s is not None and abs(told.clock_ahead_s - middle) <= unsure


def _by_certificates(told: Sequence[HttpStatistics]) -> Off | None:
    faults = {h.certificate_fault for h in told}
    hosts = frozenset(h.host for h in told if h.host)
    if len(hosts) < LEAST_SITES or len(faults) != 1 or not faults <= set(_DATED):
        return None
    found = [s for h in told if (s := _least_off_s(h)) is not None]
    if len(found) < len(told):
        return None
    return Off(seconds=max(found, key=abs), hosts=hosts, confidence=BY_CERTIFICATES)


def _least_off_s(told: HttpStatistics) -> float | None:
    """Return the least by which the clock is off for the certificate to be valid."""
    early = told.certificate_fault == "not-yet-valid"
    edge = _moment(told.certificate_begins if early else told.certificate_expires)
    here = _moment(told.clock)
    return None if edge is None or here is None else (here - edge).total_seconds()


def _moment(text: str | None) -> datetime | None:
    return None if text is None else datetime.fromisoformat(text)
