"""Whether two series of probes lose the same packets' share, or the nearer one none to speak of."""

from __future__ import annotations

from dataclasses import dataclass
from math import exp, lgamma, log, log1p

from agent.measurements import DelayStatistics


@dataclass(frozen=True, slots=True, kw_only=True)
class Losses:
    """How many independent losses there were among so many independent chances of one."""

    lost: int
    of: int

    @classmethod
    def of_series(cls, found: DelayStatistics) -> Losses:
        """Return the losses of a series: a run of lost probes is one, and counts for one chance."""
        lost = found.sent - found.received
        runs = len(found.bursts) if sum(found.bursts) == lost else lost
        return cls(lost=runs, of=round(found.sent * runs / lost) if lost else found.sent)


def chance_of_same(near: Losses, far: Losses, *, trace: float, before: float) -> float:
    """Return how probable it is that `near` loses at the ratio of `far`, not only at `trace`.

    `before` is the probability before any count was seen. Bayes' rule with binomial counts; the
    ratio of `far` is known as well as its own count tells, starting from Jeffreys' prior (1946).
    """
    same = _log_beta_binomial(near, far.lost + 0.5, far.of - far.lost + 0.5)
    clean = near.lost * log(trace) + (near.of - near.lost) * log1p(-trace)
    against = log1p(-before) - log(before) + clean - same
    return 0.0 if against > _NEVER else 1 / (1 + exp(against))


def _log_beta_binomial(count: Losses, alpha: float, beta: float) -> float:
    """Return the log chance of one arrangement of the count under a beta-distributed ratio."""
    held = count.of - count.lost
    return _log_beta(alpha + count.lost, beta + held) - _log_beta(alpha, beta)


def _log_beta(alpha: float, beta: float) -> float:
    return lgamma(alpha) + lgamma(beta) - lgamma(alpha + beta)


_NEVER = 700.0
"""The exponent at which a float's exp() is about to overflow."""
