"""The path on the sheet: one row for each hop, silent runs and long walks condensed."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace
from itertools import groupby

from agent.record import Hop, Kind, MtuStatistics, PathStatistics, Record, Segment, StoredRecord
from agent.sheet.catalogue import compare, figures, words
from agent.sheet.model import Pair, Pairs
from agent.sheet.numbers import DASH, count_of, quantity
from agent.sheet.pick import picked
from agent.sheet.wording import LINE, SHORT, bounded, word

MOST_ROWS, FIRST_ROWS = 7, 4
MOST_LABELS = 3
PPPOE_MTU_BYTES = 1492
"""RFC 2516 §7."""

Row = tuple[Pair, Sequence[Hop]]


def path_block(record: Record) -> Pairs:
    """Return where the walk went, hop by hop, within a bounded number of rows."""
    found = picked(record, PathStatistics, Kind.PATH)
    if not found:
        return Pairs(title=words.LABEL["path"], pairs=())
    measurement, path = found[0]
    line = figures.PATH_LINE.format(
        hops=len(path.hops), target=word(words.ROLE, measurement.role), reached=_ending(path)
    )
    placed = dict(
        zip(
            (hop.distance for hop in path.hops),
            record.diagnosis.segments_of(measurement.id),
            strict=False,
        )
    )
    rows = [*_condensed([_placed(row, placed) for row in _rows(path.hops)]), *_unplaced(path)]
    rows += path_size(path.mtu)
    return Pairs(title=f"{words.LABEL['path']}: {line}", pairs=tuple(rows))


def hop_pairs(path: PathStatistics) -> Iterator[Pair]:
    """Yield one row for every hop, with its names and how often it answered."""
    for hop in path.hops:
        shown = [_hop(hop)] if hop.addresses else [figures.PATH_SILENT]
        shown += [count_of(hop.answered, hop.sent), *(bounded(name) for name in hop.names)]
        yield Pair(label=figures.PATH_HOP.format(distance=hop.distance), value=", ".join(shown))
    yield from _unplaced(path)
    yield from path_size(path.mtu)


def path_size(mtu: MtuStatistics | None) -> Iterator[Pair]:
    """Yield what size passes and who limits it, nothing where that was not measured."""
    if mtu is None or mtu.path_mtu_bytes is None:
        return
    limit = mtu.up_limit or "none"
    if limit == "none" and mtu.down_below_bytes is not None:
        limit = "down"
    by = mtu.limited_by or mtu.vanish_after or figures.PATH_SIZE_SOMEWHERE
    text = figures.PATH_SIZES[limit] if limit in figures.PATH_SIZES else figures.PATH_SIZES["none"]
    text = text.format(size=mtu.path_mtu_bytes, by=bounded(by, SHORT))
    if mtu.path_mtu_bytes == PPPOE_MTU_BYTES:
        text += figures.PATH_SIZE_PPPOE
    if limit != "none" and mtu.tcp_held_down is not None:
        text += figures.PATH_SIZE_TCP[mtu.tcp_held_down]
    yield Pair(label=figures.PATH_SIZE, value=text)


def path_cell(stored: StoredRecord) -> str:
    """Return the path of a record in a few words, a dash where none was walked."""
    found = picked(stored.record, PathStatistics, Kind.PATH)
    if not found:
        return DASH
    path = found[0][1]
    return compare.PATH_CELL.format(hops=len(path.hops), ending=_ending(path))


def _ending(path: PathStatistics) -> str:
    if path.reached:
        return figures.PATH_REACHED
    at = path.stopped_at or len(path.hops)
    return figures.PATH_STOPPED.format(at=at, why=word(figures.PATH_STOP, path.stop_code))


def _rows(hops: Sequence[Hop]) -> Iterator[Row]:
    """Yield each row with the hops it stands for."""
    for silent, run in groupby(hops, key=lambda hop: not hop.addresses):
        group = list(run)
        if silent:
            yield Pair(label=_span(group), value=_silence(len(group))), group
        else:
            yield from ((Pair(label=str(h.distance), value=_hop(h)), [h]) for h in group)


def _placed(row: Row, placed: Mapping[int, Segment]) -> Row:
    """Return the row with the part of the way of its hops, where that is one and known."""
    pair, hops = row
    segments = {placed.get(hop.distance, Segment.UNDETERMINED) for hop in hops}
    segment = segments.pop()
    if segments or segment is Segment.UNDETERMINED:
        return row
    text = figures.PATH_PLACED.format(
        text=pair.value, segment=word(words.SEGMENT_IN_LINE, segment.value)
    )
    return replace(pair, value=text), hops


def _span(hops: Sequence[Hop]) -> str:
    first, last = hops[0].distance, hops[-1].distance
    return str(first) if first == last else f"{first}{DASH}{last}"


def _silence(count: int) -> str:
    return figures.PATH_SILENT if count == 1 else figures.PATH_SILENT_RUN.format(count=count)


def _hop(hop: Hop) -> str:
    parts = [f"{_addresses(hop)}, {quantity(hop.rtt_ms.median, 'ms')}"]
    if hop.labels:
        shown = "/".join(str(entry.label) for entry in hop.labels[:MOST_LABELS])
        parts.append(figures.PATH_LABELS.format(labels=shown))
    if hop.answering in figures.PATH_ANSWERING:
        parts.append(figures.PATH_ANSWERING[hop.answering])
    return bounded(", ".join(parts), LINE + SHORT)


def _addresses(hop: Hop) -> str:
    """Return the address of a hop, with those of parallel ways."""
    first, *others = hop.addresses
    if not others:
        return bounded(first, SHORT)
    both = figures.PATH_OR.format(first=bounded(first, SHORT), other=bounded(others[0], SHORT))
    if len(others) == 1 and len(both) <= SHORT:
        return both
    return figures.PATH_OR_MORE.format(first=bounded(first, SHORT), count=len(others))


def _condensed(rows: list[Row]) -> list[Pair]:
    """Return at most `MOST_ROWS` rows: the near end, the far end, and what lies between in one."""
    pairs = [pair for pair, _ in rows]
    if len(rows) <= MOST_ROWS:
        return pairs
    last = MOST_ROWS - FIRST_ROWS - 1
    between = [hop for _, hops in rows[FIRST_ROWS:-last] for hop in hops]
    return [*pairs[:FIRST_ROWS], Pair(label="…", value=_between(between)), *pairs[-last:]]


def _between(hops: Sequence[Hop]) -> str:
    said = figures.PATH_BETWEEN.format(count=len(hops))
    several = [str(hop.distance) for hop in hops if len(hop.addresses) > 1]
    if not several:
        return said
    return bounded(said + figures.PATH_SEVERAL.format(distances=", ".join(several)), LINE)


def _unplaced(path: PathStatistics) -> Iterator[Pair]:
    if path.unplaced:
        shown = bounded(", ".join(path.unplaced), SHORT)
        yield Pair(label="?", value=figures.PATH_UNPLACED.format(addresses=shown))
