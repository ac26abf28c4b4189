"""The catalogue of tiers as a list for a terminal: what is sold, accepted, set and promised."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from textwrap import wrap

from agent.record import TierFacts
from agent.sheet.catalogue import tiers as said
from agent.sheet.catalogue import words
from agent.sheet.numbers import limit_text, plain_rate, quantity
from agent.sheet.wording import LINE, bounded, word

GAP = "  "
NARROWEST_NAME = 12


@dataclass(frozen=True, slots=True, kw_only=True)
class Offer:
    """One tier as it is judged, with what a record does not keep of it; ms and ratio."""

    facts: TierFacts
    access: str
    delay_ms: float | None = None
    loss_ratio: float | None = None
    note: str = ""


def tier_lines(offers: Sequence[Offer], width: int) -> Iterator[str]:
    """Yield lines of a width: a row for each tier, and below it what is promised beside its rates.

    They are plain text: a long catalogue shall be there at once.
    """
    rows = [_row(offer) for offer in offers]
    widths = _widths([said.HEAD, *rows], width)
    yield from _line(said.HEAD, widths)
    for offer, row in zip(offers, rows, strict=True):
        yield from _line(row, widths)
        yield from wrap(
            ", ".join(promised(offer)), width, initial_indent=GAP, subsequent_indent=GAP
        )
    yield said.ONE if len(rows) == 1 else said.COUNT.format(count=len(rows))


def _widths(rows: Sequence[Sequence[str]], width: int) -> list[int]:
    """Return the width of each column; the name's is what the others leave."""
    longest, *others = (max(len(row[place]) for row in rows) for place in range(len(rows[0])))
    left = width - sum(others) - len(GAP) * len(others)
    return [max(NARROWEST_NAME, min(longest, left)), *others]


def _line(row: Sequence[str], widths: Sequence[int]) -> Iterator[str]:
    """Yield a row; a name that is too long goes on below itself."""
    name, *more = wrap(row[0], widths[0]) or [""]
    cells = zip((name, *row[1:]), widths, strict=True)
    yield GAP.join(cell.ljust(width) for cell, width in cells).rstrip()
    yield from more


def _row(offer: Offer) -> tuple[str, ...]:
    facts = offer.facts
    accepted = dict.fromkeys(quantity(r, "ratio") for r in (facts.accept_down, facts.accept_up))
    return (
        bounded(facts.name, LINE),
        _rates(facts.down_bps, facts.up_bps),
        word(words.LAYER, facts.layer),
        word(words.ACCESS, offer.access),
        " / ".join(accepted),
    )


def promised(offer: Offer) -> Iterator[str]:
    """Yield what is said of a tier beside its headline."""
    facts = offer.facts
    for name, text in said.PROMISED.items():
        down, up = getattr(facts, f"{name}_down_bps"), getattr(facts, f"{name}_up_bps")
        if down is not None and up is not None:
            yield text.format(rates=_rates(down, up))
    if facts.provisioned is not None:
        yield said.SET.format(times=f"{facts.provisioned:g}")
    if offer.delay_ms is not None:
        yield said.DELAY.format(limit=limit_text(offer.delay_ms, "ms"))
    if offer.loss_ratio is not None:
        yield said.LOSS.format(limit=limit_text(offer.loss_ratio, "ratio"))
    if offer.note:
        yield said.NOTE.format(note=bounded(offer.note))


def _rates(down_bps: float, up_bps: float) -> str:
    return f"{plain_rate(down_bps)} / {plain_rate(up_bps)}"
