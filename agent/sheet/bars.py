"""The bars: each criterion with its value, interval and limit, in words and as positions."""

from __future__ import annotations

import re

from agent.record import (
    Criterion,
    DelayStatistics,
    DnsStatistics,
    HttpStatistics,
    Limiter,
    Limiting,
    Record,
    Sense,
    Statistics,
    ThroughputStatistics,
    TierFacts,
    Verdict,
)
from agent.sheet.catalogue import figures, words
from agent.sheet.model import Bar, Mark, Scale
from agent.sheet.numbers import (
    DASH,
    Judged,
    fixed,
    judged,
    limit_text,
    plain_rate,
    quantity,
    with_unit,
)
from agent.sheet.rates import WAYS, limiter_of, way_of
from agent.sheet.wording import LIKELY_FROM, bounded, reason_sentence, word

RATES = ("throughput-down", "throughput-up")
RATE_OF = dict(zip(RATES, WAYS, strict=True))
MOST_PROMISES = 8
IDLE = "none"
MARKS = {Verdict.MEETS: Mark.KEPT, Verdict.BELOW: Mark.MISSED, Verdict.NOT_PROVEN: Mark.OPEN}
# Where the limit stands on a bar with a ceiling, and the room above the longest bar.
CEILING_AT = 0.62
ROOM = 1.06
# Limits that differ by less than this share are the same limit, computed in another order.
SAME_LIMIT = 0.001
_SHARE = re.compile(r"(\d{2,5})/(\d{2,5})")


def rate_bars(record: Record) -> tuple[Bar, ...]:
    """Return the bars of the rates, download first; one scale for each."""
    found = [c for name in RATES for c in record.assessment.criteria if c.name == name]
    return tuple(bar_of(record, criterion) for criterion in found[:2])


def promise_bars(record: Record) -> tuple[tuple[Bar, ...], int]:
    """Return the bars of the other criteria, needed and missed first, and how many are left out."""
    others = [c for c in record.assessment.criteria if c.name not in RATES and not _idle(c)]
    urgent = sorted(others, key=lambda c: (c.outcome is not Verdict.BELOW, not c.needed))
    kept = [c for c in others if any(c is one for one in urgent[:MOST_PROMISES])]
    return tuple(bar_of(record, c) for c in kept), len(others) - len(kept)


def criterion_text(criterion: Criterion) -> Judged | None:
    """Return the printed numbers of a criterion, None where nothing was measured."""
    if criterion.measured is None or criterion.unit not in {"bps", "ratio", "ms", "count", "s"}:
        return None
    return judged(
        criterion.measured,
        criterion.low,
        criterion.high,
        limit=criterion.limit,
        unit=criterion.unit,
        sense=criterion.sense,
    )


def bound_text(criterion: Criterion, text: Judged | None) -> str:
    """Return the limit with its sign, empty where there is none."""
    if criterion.limit is None:
        return ""
    shown = text.limit if text and text.limit else limit_text(criterion.limit, criterion.unit)
    return f"{words.BOUND_SIGN[criterion.sense]} {shown}"


def share_of_layer(criterion: Criterion) -> float | None:
    """Return how many payload octets an octet of the tier's layer carries, as it was judged."""
    match = _SHARE.search(criterion.converted or "")
    if match is None or int(match[2]) == 0:
        return None
    return int(match[1]) / int(match[2])


def sold_bps(tier: TierFacts | None, criterion: Criterion) -> float | None:
    """Return the sold rate at the layer of the criterion, bit/s."""
    if tier is None or criterion.name not in RATES:
        return None
    headline = tier.down_bps if criterion.name == RATES[0] else tier.up_bps
    share = share_of_layer(criterion)
    if share is not None:
        return headline * share
    return float(headline) if criterion.layer == tier.layer else None


def bar_of(record: Record, criterion: Criterion) -> Bar:
    """Return one criterion as it stands on its record's own page."""
    text = criterion_text(criterion)
    sold = sold_bps(record.tier, criterion)
    return Bar(
        label=word(words.CRITERION, criterion.name),
        value=_value(criterion, text),
        interval=text.interval or "" if text else "",
        limit="" if criterion.name in words.YES_NO else bound_text(criterion, text),
        sold=_sold_text(record.tier, criterion),
        sample=_sample(record, criterion),
        mark=MARKS[criterion.outcome],
        outcome=_outcome(criterion),
        note=_note(record, criterion),
        scale=_scale(criterion, sold),
        aside=_aside(record, criterion),
    )


def _value(criterion: Criterion, text: Judged | None) -> str:
    if text is None or criterion.measured is None:
        return DASH
    answers = words.YES_NO.get(criterion.name)
    return answers[criterion.measured >= 1] if answers else text.value


def _idle(criterion: Criterion) -> bool:
    """Return True for a criterion that neither decides nor shows a number."""
    return not criterion.needed and criterion.measured is None


def _outcome(criterion: Criterion) -> str:
    plain = words.OUTCOME[criterion.outcome]
    return plain if criterion.needed else words.EVIDENCE_ONLY.format(outcome=plain)


def _note(record: Record, criterion: Criterion) -> str:
    parts = []
    if criterion.reason is not None:
        parts.append(reason_sentence(criterion.reason))
    if criterion.at_least:
        parts.append(figures.AT_LEAST_PORT)
    if criterion.name in RATES and criterion.measured is not None:
        parts += [_conversion(record.tier, criterion), _accepted_share(record.tier, criterion)]
    return " ".join(part for part in parts if part)


def _conversion(tier: TierFacts | None, criterion: Criterion) -> str:
    match, sold = _SHARE.search(criterion.converted or ""), sold_bps(tier, criterion)
    if tier is None or match is None or sold is None or tier.layer == criterion.layer:
        return ""
    headline = tier.down_bps if criterion.name == RATES[0] else tier.up_bps
    return figures.CONVERTED.format(
        sold=_whole(headline),
        layer=word(words.LAYER, tier.layer),
        here=with_unit(fixed(sold / 1e6, 2), "Mbit/s"),
        share=match[0],
        assumed=figures.ASSUMED if "assumed" in (criterion.converted or "") else "",
    )


def _accepted_share(tier: TierFacts | None, criterion: Criterion) -> str:
    """Return which share of the sold rate is accepted, where the limit is that share."""
    sold = sold_bps(tier, criterion)
    if tier is None or sold is None or criterion.limit is None:
        return ""
    share = tier.accept_down if criterion.name == RATES[0] else tier.accept_up
    if abs(criterion.limit - sold * share) > SAME_LIMIT * criterion.limit:
        return ""
    return figures.ACCEPTED_SHARE.format(share=quantity(share, "ratio"))


def _sold_text(tier: TierFacts | None, criterion: Criterion) -> str:
    if tier is None or criterion.name not in RATES:
        return ""
    headline = tier.down_bps if criterion.name == RATES[0] else tier.up_bps
    return f"{_whole(headline)} ({word(words.LAYER, tier.layer)})"


def _whole(rate_bps: float) -> str:
    return with_unit(plain_rate(rate_bps), "Mbit/s")


def _aside(record: Record, criterion: Criterion) -> str:
    """Return the burst beside a sustained rate, and what else than the line held it back."""
    way = way_of(record, RATE_OF[criterion.name]) if criterion.name in RATE_OF else None
    if way is None:
        return ""
    limiter, burst = limiter_of(record, way.measurement), way.statistics.burst_bps
    parts = []
    if limiter is not None and _telling(limiter, criterion):
        name = word(figures.LIMITER, limiter.limiter)
        parts.append(figures.LIMITED_BY[limiter.confidence >= LIKELY_FROM].format(name=name))
    if burst is not None:
        parts.append(figures.BURST.format(rate=quantity(burst, "bps")))
    return "; ".join(parts)


def _telling(limiter: Limiter, criterion: Criterion) -> bool:
    """Return True for what is no line's doing, and for the line where it surely is too slow."""
    if limiter.limiter is Limiting.LINE:
        return criterion.outcome is Verdict.BELOW and limiter.confidence >= LIKELY_FROM
    return limiter.limiter is not Limiting.UNDETERMINED


def _sample(record: Record, criterion: Criterion) -> str:
    """Return what the number rests on: the judged one of two transfers, the load of a rise."""
    way = way_of(record, RATE_OF[criterion.name]) if criterion.name in RATE_OF else None
    if way is not None:
        return _rests_on(way.statistics, len(way.rates))
    ids = criterion.measurements
    found = [one.statistics for one in record.measured if one.measurement.id in ids]
    loaded = [one for one in found if getattr(one, "load", IDLE) != IDLE]
    return _rests_on((loaded or found)[0], len(found)) if found else ""


def _rests_on(statistics: Statistics | None, count: int) -> str:
    match statistics:
        case DelayStatistics(sent=sent):
            return figures.SAMPLE["delay"].format(sent=sent)
        case DnsStatistics(sent=sent):
            return figures.SAMPLE["dns"].format(sent=sent)
        case HttpStatistics():
            return figures.SAMPLE["pages"].format(count=count)
        case ThroughputStatistics(used_s=used, flows=flows):
            name = "throughput" if count < 2 else "repeated"
            return figures.SAMPLE[name].format(
                used_s=quantity(used, "s", 0.5), flows=flows, count=count
            )
        case _:
            return ""


def _scale(criterion: Criterion, sold: float | None) -> Scale | None:
    longest = reach_of(criterion, sold)
    return None if longest is None else scale_on(criterion, sold, longest)


def reach_of(criterion: Criterion, sold: float | None) -> float | None:
    """Return how far the scale of a criterion reaches, in its unit; None where it has no bar."""
    if criterion.measured is None or criterion.limit is None or criterion.unit == "count":
        return None
    points = (criterion.measured, criterion.high, criterion.limit, sold)
    longest = max(point for point in points if point is not None) * ROOM
    if criterion.sense is Sense.AT_MOST:
        longest = max(longest, criterion.limit / CEILING_AT)
    return longest if longest > 0 else None


def scale_on(criterion: Criterion, sold: float | None, longest: float) -> Scale:
    """Return the positions of a criterion's marks on a scale from 0 to `longest`, in its unit."""

    def at(point: float | None) -> float | None:
        return None if point is None else min(1.0, max(0.0, point / longest))

    return Scale(
        value=at(criterion.measured) or 0.0,
        low=at(criterion.low),
        high=at(criterion.high),
        limit=at(criterion.limit),
        sold=at(sold),
        at_least=criterion.sense is Sense.AT_LEAST,
    )


def label_of(criterion: Criterion) -> str:
    """Return the name of a criterion as printed."""
    return bounded(word(words.CRITERION, criterion.name))
