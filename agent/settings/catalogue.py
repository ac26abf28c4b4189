"""Searching the tiers: by parts of the name, access technology, layer or a rate."""

from __future__ import annotations

import re
from collections.abc import Sequence

from agent.errors import UsageError
from agent.settings.allowed import closest
from agent.settings.choose import OFFERED, near
from agent.settings.keys import folded
from agent.settings.model import Tier
from agent.units import GIGA, KILO, MEGA

_RATE = re.compile(r"([0-9]{1,6}(?:\.[0-9]{1,6})?) ?([kmg])(?:bit/s|bits?|bps)?", re.IGNORECASE)
_FACTOR = {"k": KILO, "m": MEGA, "g": GIGA}


def found_tiers(tiers: Sequence[Tier], words: Sequence[str]) -> tuple[Tier, ...]:
    """Return the tiers that every word fits, in their order; all of them without a word.

    A word fits a part of the name, the access technology or the layer, case and marks aside, a
    number only as a whole; a rate such as 100M fits a headline rate. Raises UsageError where a word
    says nothing, or no tier fits.
    """
    for word in words:
        if not folded(word):
            raise UsageError(
                problem=f"{word!r} is nothing to look for.",
                remedy="Give parts of a name, an access technology, or a rate such as 100M.",
            )
    found = tuple(tier for tier in tiers if all(_fits(tier, word) for word in words))
    if not found:
        raise UsageError(
            problem=f"No tier fits {' '.join(words)!r}." if words else "There are no tiers.",
            remedy=_remedy(tiers, words),
        )
    return found


def _fits(tier: Tier, word: str) -> bool:
    rate = _RATE.fullmatch(word.strip())
    if rate is not None:
        wanted = float(rate[1]) * _FACTOR[rate[2].lower()]
        if wanted in (tier.down_bps, tier.up_bps):
            return True
    sought, name = folded(word), folded(tier.name)
    if sought in (folded(tier.access), folded(tier.layer)):
        return True
    return _holds(name, sought)


def _holds(name: str, sought: str) -> bool:
    """Tell whether a name holds a text; where that begins or ends in a digit, no further one."""
    start = name.find(sought)
    while start >= 0:
        before, after = name[:start][-1:], name[start + len(sought) :][:1]
        cut = (before.isdigit() and sought[0].isdigit()) or (
            after.isdigit() and sought[-1].isdigit()
        )
        if not cut:
            return True
        start = name.find(sought, start + 1)
    return False


def _remedy(tiers: Sequence[Tier], words: Sequence[str]) -> str:
    names = [tier.name for tier in tiers]
    nearest = near(" ".join(words), names) or [n for word in words for n in _like(tiers, word)]
    if nearest:
        return f"Nearest: {', '.join(dict.fromkeys(nearest[:OFFERED]))}."
    if not names:
        return "Add one to a file and name it with --settings."
    return f"There are {len(names)}; doorstep settings tiers lists them all."


def _like(tiers: Sequence[Tier], word: str) -> list[str]:
    """Return the names of tiers of which one word is near a wanted one."""
    said = {tier.name: {*folded(tier.name).split("_"), tier.access, tier.layer} for tier in tiers}
    known = sorted({str(one) for several in said.values() for one in several})
    close = closest(folded(word), known, 1)
    return [name for name, several in said.items() if set(close) & several]
