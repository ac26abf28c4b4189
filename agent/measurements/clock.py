"""One exchange with a time server: how far this laptop's clock is off."""

from __future__ import annotations

from dataclasses import dataclass

from agent.measurements.base import Reason
from agent.units import MS_PER_S


@dataclass(frozen=True, slots=True, kw_only=True)
class ClockExchange:
    """One question to a time server; `reason` says why it told nothing.

    `there_s` is T2 - T1 and `back_s` is T4 - T3 as the two clocks show them, in seconds: their own
    error is in both, with opposite signs.
    """

    server: str
    there_s: float | None = None
    back_s: float | None = None
    stratum: int | None = None
    reason: Reason | None = None

    @property
    def offset_ms(self) -> float | None:
        """Return how far the server's clock is ahead of this laptop's.

        θ = ½ [(T2 - T1) + (T3 - T4)] of RFC 5905 §8; None where the server told nothing.
        """
        if self.there_s is None or self.back_s is None:
            return None
        return (self.there_s - self.back_s) / 2 * MS_PER_S

    @property
    def unsure_ms(self) -> float | None:
        """Return how far the offset may be wrong, however unequal the two ways are.

        Half of the round trip δ = (T4 - T1) - (T3 - T2) of RFC 5905 §8, which is all that a delay
        of one way alone can hide. A clock that runs fast may show it as less than nothing.
        """
        if self.there_s is None or self.back_s is None:
            return None
        return abs(self.there_s + self.back_s) / 2 * MS_PER_S
