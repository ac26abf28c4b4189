"""Names and pages: in brief on the first sheet, as tables on the second."""

from __future__ import annotations

from agent.record import DnsStatistics, HttpStatistics, Kind, Measurement, Record
from agent.sheet.catalogue import figures, words
from agent.sheet.model import Pair, Pairs, Table
from agent.sheet.numbers import DASH, count_of, number, quantity
from agent.sheet.pick import picked
from agent.sheet.wording import SHORT, bounded, more

MOST_IN_BRIEF, MOST_ROWS = 3, 10


def names_in_brief(record: Record) -> Pairs:
    """Return a line for each resolver and one for all pages."""
    resolvers = picked(record, DnsStatistics, Kind.DNS)
    pairs = [_resolver_line(m, s) for m, s in resolvers[:MOST_IN_BRIEF]]
    return Pairs(
        title=words.LABEL["names"],
        pairs=(*pairs, *_pages_line(record)),
        more=more(len(resolvers) - MOST_IN_BRIEF),
    )


def dns_table(record: Record) -> Table:
    """Return a row for each resolver, family and transport."""
    found = picked(record, DnsStatistics, Kind.DNS)
    rows = tuple(
        (
            _resolver(m, s),
            count_of(s.answered, s.sent),
            number(s.median_ms, "ms"),
            number(s.p95_ms, "ms"),
        )
        for m, s in found[:MOST_ROWS]
    )
    return Table(
        title=words.LABEL["dns"],
        head=figures.HEAD_DNS,
        rows=rows,
        more=more(len(found) - MOST_ROWS),
    )


def web_table(record: Record) -> Table:
    """Return a row for each page that was asked for."""
    found = picked(record, HttpStatistics, Kind.HTTP)
    rows = tuple(
        (
            _page(m),
            DASH if s.status is None else str(s.status),
            number(s.first_byte_ms, "ms"),
            number(s.total_ms, "ms"),
        )
        for m, s in found[:MOST_ROWS]
    )
    return Table(
        title=words.LABEL["web"],
        head=figures.HEAD_WEB,
        rows=rows,
        more=more(len(found) - MOST_ROWS),
    )


def _resolver_line(m: Measurement, s: DnsStatistics) -> Pair:
    answered = count_of(s.answered, s.sent)
    median = quantity(s.median_ms, "ms")
    line = words.NAMES_LINE.format(resolver=_resolver(m, s), answered=answered, median=median)
    return Pair(label=words.LABEL["resolver"], value=line)


def _pages_line(record: Record) -> list[Pair]:
    found = picked(record, HttpStatistics, Kind.HTTP)
    if not found:
        return []
    came = [(s.total_ms, m) for m, s in found if s.answered and s.total_ms is not None]
    said = count_of(sum(1 for _, s in found if s.answered), len(found))
    if came:
        slowest_ms, page = max(came, key=lambda one: one[0])
        said = words.PAGES_LINE.format(
            came=said, slowest=_page(page), total=quantity(slowest_ms, "ms")
        )
    return [Pair(label=words.LABEL["pages"], value=said)]


def _page(measurement: Measurement) -> str:
    return bounded(getattr(measurement.observed, "target", measurement.address or DASH), SHORT)


def _resolver(measurement: Measurement, statistics: DnsStatistics) -> str:
    """Return the resolver's address, or its name and what carries the queries."""
    named = str(getattr(measurement.observed, "resolver", DASH))
    over = figures.OVER.get(statistics.transport)
    return bounded(measurement.address or named if over is None else f"{named} {over}", SHORT)
