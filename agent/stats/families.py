"""What the pages over each family say of IPv6, and what its break costs a browser."""

from __future__ import annotations

from dataclasses import dataclass

from agent.measurements import (
    FamilyBreak,
    FamilyLook,
    FamilyState,
    FamilyStatistics,
    FamilyTry,
    Named,
)
from agent.stats.path import path_statistics
from agent.stats.quantiles import median, median_of_known
from agent.units import MS_PER_S

RESOLUTION_DELAY_S = 0.05
"""How long a racing client waits for the IPv6 addresses once it has the others (RFC 8305 §8)."""

ATTEMPT_DELAY_S = 0.25
"""When a racing client begins its next attempt beside one that hangs (RFC 8305 §8)."""

NOTICED_MS = 100.0
"""The shortest attempt delay that is recommended (RFC 8305 §8): slower by this loses the race."""

CONNECT_LIMIT_S = 127.0
"""Six repeats of a SYN from one second on, each wait doubled (RFC 6298 §2 and §5.5; six is what
Linux' ip-sysctl documents): 1 + 2 + 4 + 8 + 16 + 32 + 64."""

NAME_LIMIT_S = 10.0
"""Two attempts of five seconds at a resolver: the defaults of resolv.conf(5)."""

FULL_BYTES = 1_400
"""An answer this long came in at least one packet of nearly full size."""

SILENCE = "timed-out"
LEAST_PAIRS = 2


@dataclass(frozen=True, slots=True)
class _Pair:
    """One page over both families."""

    four: FamilyTry | None
    six: FamilyTry

    @property
    def alone(self) -> bool:
        """Tell whether the page answers over IPv4 and has no connection over IPv6."""
        return self.four is not None and _came(self.four) and not connected(self.six)

    @property
    def swallowed(self) -> bool:
        """Tell whether large packets get through over IPv4 alone, and small ones over both."""
        large_4 = self.four is not None and _came(self.four)
        silent = self.six.connect_ms is not None and self.six.problem == SILENCE
        return large_4 and silent and self.six.small_status is not None

    @property
    def later_ms(self) -> float | None:
        """Return how much longer the connection over IPv6 took."""
        if self.four is None or self.four.connect_ms is None or self.six.connect_ms is None:
            return None
        return self.six.connect_ms - self.four.connect_ms


def family_statistics(look: FamilyLook) -> FamilyStatistics:
    """Return the state of IPv6; a page counts against it only where it answers over IPv4."""
    pairs = _pairs(look)
    breaks = _breaks(look, pairs)
    answered = [p for p in pairs if _came(p.six)]
    racing_s, single_s = _cost(look, pairs, breaks)
    path = None if look.walk is None else path_statistics(look.walk)
    return FamilyStatistics(
        state=_state(look, pairs, breaks),
        breaks=breaks,
        translation_prefix=look.translation_prefix,
        translates_itself=look.translates_itself,
        tried=len(pairs),
        answered=len(answered),
        unanswered=tuple(p.six.target for p in pairs if p.alone),
        connect_4_ms=median_of_known(p.four.connect_ms for p in pairs if p.four is not None),
        connect_6_ms=median_of_known(p.six.connect_ms for p in pairs),
        racing_s=racing_s,
        single_s=single_s,
        hangs=FamilyBreak.LARGE_LOST in breaks,
        hops=() if path is None else tuple(hop.addresses for hop in path.hops),
        walked_to=None if look.walk is None else look.walk.target,
        stop_code=None if path is None else path.stop_code,
        ipv4_missing=_ipv4_missing(look),
    )


def connected(one: FamilyTry) -> bool:
    """Tell whether a connection was made, at once or when tried again."""
    return one.connect_ms is not None or one.small_status is not None


def _came(one: FamilyTry) -> bool:
    """Tell whether anything came back over a connection; over a second one where none was made."""
    if one.connect_ms is None:
        return one.small_status is not None
    return one.problem != SILENCE


def _pairs(look: FamilyLook) -> tuple[_Pair, ...]:
    of_four = {t.target: t for t in look.tries if t.family == 4 and t.tried}
    six = (t for t in look.tries if t.family == 6 and t.tried)
    return tuple(_Pair(of_four.get(t.target), t) for t in six)


def _breaks(look: FamilyLook, pairs: tuple[_Pair, ...]) -> tuple[FamilyBreak, ...]:
    if 6 not in look.held:
        return ()
    if 6 not in look.routed and not any(connected(p.six) for p in pairs):
        return (FamilyBreak.NO_ROUTE,)
    found = [FamilyBreak.NAMES_SILENT] if _names_silent(look) else []
    alone = [p for p in pairs if p.alone]
    if alone:
        whole = len(alone) >= LEAST_PAIRS and not any(connected(p.six) for p in pairs)
        found.append(FamilyBreak.NO_ANSWER if whole else FamilyBreak.SITE_UNANSWERED)
    if any(p.swallowed for p in pairs) and not any(_large_came(p.six) for p in pairs):
        found.append(FamilyBreak.LARGE_LOST)
    if _slower(pairs):
        found.append(FamilyBreak.SLOWER)
    return tuple(found)


def _large_came(one: FamilyTry) -> bool:
    return _came(one) and (one.bytes or 0) >= FULL_BYTES


def _ipv4_missing(look: FamilyLook) -> bool:
    """Tell whether IPv4 is neither held nor translated to, by resolvers that did answer."""
    translated = look.translation_prefix is not None or look.translates_itself
    told = any(t.family == 6 and t.named in {Named.GIVEN, Named.NONE} for t in look.tries)
    return 6 in look.held and 4 not in look.held and told and not translated


def _slower(pairs: tuple[_Pair, ...]) -> bool:
    later = [p.later_ms for p in pairs if p.later_ms is not None]
    return len(later) >= LEAST_PAIRS and min(later) >= NOTICED_MS


def _names_silent(look: FamilyLook) -> bool:
    """Every name has IPv4 addresses, and for none of them IPv6 was answered for."""
    given = {t.target for t in look.tries if t.family == 4 and t.named is Named.GIVEN}
    silent = {t.target for t in look.tries if t.family == 6 and t.named is Named.SILENT}
    return len(given) >= LEAST_PAIRS and given <= silent


def _state(
    look: FamilyLook, pairs: tuple[_Pair, ...], breaks: tuple[FamilyBreak, ...]
) -> FamilyState:
    if 6 not in look.held:
        return FamilyState.ABSENT
    if set(breaks) - {FamilyBreak.SITE_UNANSWERED}:
        return FamilyState.BROKEN
    return FamilyState.PRESENT if any(_came(p.six) for p in pairs) else FamilyState.UNTRIED


def _cost(
    look: FamilyLook, pairs: tuple[_Pair, ...], breaks: tuple[FamilyBreak, ...]
) -> tuple[float | None, float | None]:
    """Return the seconds that a new connection loses in a racing client, and in another."""
    if not breaks:
        return (None, None) if 6 in look.held and not pairs else (0.0, 0.0)
    if FamilyBreak.NAMES_SILENT in breaks:
        return RESOLUTION_DELAY_S, NAME_LIMIT_S
    lost_s = [_lost_s(p.six) for p in pairs if p.alone]
    if not lost_s and FamilyBreak.SLOWER in breaks:
        lost_s = [p.later_ms / MS_PER_S for p in pairs if p.later_ms is not None]
    middle_s = median(lost_s)
    return (None, None) if middle_s is None else (min(ATTEMPT_DELAY_S, middle_s), middle_s)


def _lost_s(one: FamilyTry) -> float:
    """Return how long an attempt keeps a client that waits for its end."""
    silent = one.problem == SILENCE or one.took_ms is None
    return CONNECT_LIMIT_S if silent or one.took_ms is None else one.took_ms / MS_PER_S
