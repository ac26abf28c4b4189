"""What a finding rests on, as sentences: each measurement with the figures of its row."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import fields, is_dataclass, replace
from itertools import islice

from agent.record import (
    DelayStatistics,
    DnsStatistics,
    Finding,
    HttpStatistics,
    Kind,
    Measured,
    Measurement,
    PathStatistics,
    ReachStatistics,
    Record,
    Role,
    Sense,
    ThroughputStatistics,
)
from agent.sheet.catalogue import figures, words
from agent.sheet.catalogue import training as said
from agent.sheet.numbers import judged, quantity
from agent.sheet.path_rows import hop_pairs, path_size
from agent.sheet.rates import limiter_of, limiter_text
from agent.sheet.single import figures_of
from agent.sheet.wording import SHORT, bare_name, bounded, reason_sentence, value_text, word

MOST_ROWS, MOST_FIGURES, MOST_HOPS = 8, 9, 6
LONGEST = 300
BLOCK = {
    Kind.LINK: "address",
    Kind.LEASE: "address",
    Kind.REACH: "address",
    Kind.DNS: "dns",
    Kind.HTTP: "web",
    Kind.DELAY: "delay",
    Kind.PATH: "path",
    Kind.THROUGHPUT: "rate",
}


def evidence_of(record: Record, finding: Finding) -> tuple[str, ...]:
    """Return one sentence for each measurement that a finding rests on, in the finding's order."""
    by_id = {one.measurement.id: one for one in record.measured}
    found = [by_id[name] for name in dict.fromkeys(finding.evidence) if name in by_id]
    return tuple(_sentence(record, one) for one in found[:MOST_ROWS]) or (said.EVIDENCE_NONE,)


def _sentence(record: Record, one: Measured) -> str:
    measurement = one.measurement
    block, row = words.LABEL[BLOCK[measurement.kind]], _row(one)
    figures = "; ".join(text for text in _figures(record, one) if text)
    template = said.ROW if row else said.ROWLESS
    return bounded(template.format(block=block, row=row, figures=figures.rstrip(".")), LONGEST)


def _row(one: Measured) -> str:
    """Return how the page names the row of a measurement, empty where its block has one only."""
    measurement, statistics = one.measurement, one.statistics
    if measurement.kind is Kind.THROUGHPUT:
        return words.DIRECTION[measurement.direction]
    if isinstance(statistics, DelayStatistics):
        return word(words.ROLE, measurement.role) + words.LOAD.get(statistics.load, "")
    if measurement.kind in (Kind.DNS, Kind.HTTP):
        seen = measurement.observed
        named = getattr(seen, "resolver", None) or getattr(seen, "target", None)
        return bounded(named or measurement.address or "", SHORT)
    return "" if measurement.role is Role.LOCAL else word(words.ROLE, measurement.role)


def _figures(record: Record, one: Measured) -> Iterator[str]:
    measurement, s = one.measurement, one.statistics
    if measurement.reason is not None:
        yield reason_sentence(measurement.reason).rstrip(".")
    match s:
        case DelayStatistics():
            yield from _delay(s)
        case DnsStatistics():
            yield said.QUERIES.format(answered=s.answered, sent=s.sent)
            yield _times(s.median_ms, s.p95_ms)
            yield from _marks(s)
        case HttpStatistics():
            yield from _page(s)
            yield from _marks(s)
        case ThroughputStatistics():
            yield from _rate(record, measurement, s)
        case PathStatistics():
            yield from _path(measurement, s)
        case ReachStatistics():
            yield from _ports(s)
        case None:
            pass
        case _:
            yield from _plain(s)


def _delay(s: DelayStatistics) -> Iterator[str]:
    if not s.received:
        yield said.SENT_SILENT.format(sent=s.sent)
        return
    lost = round((s.loss_ratio or 0.0) * s.sent)
    share = judged(s.loss_ratio or 0.0, s.loss_low, s.loss_high, unit="ratio", sense=Sense.AT_MOST)
    template = said.SENT_LOST_BETWEEN if share.interval else said.SENT_LOST
    yield template.format(sent=s.sent, lost=lost, share=share.value, between=share.interval)
    if lost and s.forward_loss_ratio is not None and s.backward_loss_ratio is not None:
        up, down = (quantity(r, "ratio") for r in (s.forward_loss_ratio, s.backward_loss_ratio))
        yield said.EACH_WAY.format(up=up, down=down)
    yield _times(s.rtt_ms.median, s.rtt_ms.p95)
    if s.rise_ms is not None:
        yield said.RISE.format(rise=quantity(s.rise_ms, "ms"))


def _times(median_ms: float | None, p95_ms: float | None) -> str:
    if median_ms is None:
        return ""
    return said.MEDIAN.format(median=quantity(median_ms, "ms"), p95=quantity(p95_ms, "ms"))


def _page(s: HttpStatistics) -> Iterator[str]:
    yield said.FETCHES.format(answered=s.answered, sent=s.sent)
    if s.status is not None:
        yield said.STATUS.format(status=s.status)
    if s.total_ms is not None:
        first, total = quantity(s.first_byte_ms, "ms"), quantity(s.total_ms, "ms")
        yield said.PAGE_TIMES.format(first=first, total=total)


def _rate(record: Record, measurement: Measurement, s: ThroughputStatistics) -> Iterator[str]:
    if s.goodput_bps is None:
        return
    told = judged(s.goodput_bps, s.low_bps, s.high_bps, unit="bps", sense=Sense.AT_LEAST)
    yield said.RATE.format(rate=told.value, between=told.interval or told.value, flows=s.flows)
    limiter = limiter_of(record, measurement)
    if limiter is not None:
        yield said.HELD_BY.format(limiter=limiter_text(limiter))


def _path(measurement: Measurement, s: PathStatistics) -> Iterator[str]:
    why = word(figures.PATH_STOP, s.stop_code)
    ended = figures.PATH_STOPPED.format(at=s.stopped_at, why=why)
    yield figures.PATH_LINE.format(
        hops=len(s.hops),
        target=word(words.ROLE, measurement.role),
        reached=figures.PATH_REACHED if s.reached else ended,
    )
    for pair in (*path_size(s.mtu), *islice(hop_pairs(replace(s, mtu=None)), MOST_HOPS)):
        yield f"{pair.label} {pair.value}"


def _ports(s: ReachStatistics) -> Iterator[str]:
    yield said.PORTS.format(good=s.as_wanted, tried=s.tried)
    for port in s.ports:
        if port.as_wanted is False:
            yield said.PORT.format(
                name=bounded(port.name, SHORT),
                transport=port.transport.value.upper(),
                port=port.port,
                outcome=said.OUTCOME.get(port.outcome) or bounded(port.outcome, SHORT),
            )
            if port.answers_to is not None and port.others_to is not None:
                yield said.PORT_ANSWERS.format(last=port.answers_to, beside=port.others_to)


def _marks(statistics: object) -> Iterator[str]:
    """Yield what statistics tell by words and by yes or no, numbers left to their own templates."""
    for name, value in _members(statistics):
        if isinstance(value, bool | str):
            yield said.MARK.format(name=bare_name(name), value=value_text(name, value))
        elif isinstance(value, tuple) and value:
            told = bounded(", ".join(map(_entry, value)), LONGEST // 4)
            yield said.MARK.format(name=bare_name(name), value=told)


def _members(statistics: object) -> Iterator[tuple[str, object]]:
    if is_dataclass(statistics):
        yield from ((f.name, getattr(statistics, f.name)) for f in fields(statistics))


def _entry(value: object) -> str:
    return " ".join(map(_entry, value)) if isinstance(value, tuple) else str(value)


def _plain(statistics: object) -> Iterator[str]:
    pairs = list(figures_of(statistics))
    for pair in pairs[:MOST_FIGURES]:
        name = bare_name(pair.label.replace(" ", "_"))
        yield said.MARK.format(name=name, value=pair.value)
    if len(pairs) > MOST_FIGURES:
        yield said.MORE.format(count=len(pairs) - MOST_FIGURES)
