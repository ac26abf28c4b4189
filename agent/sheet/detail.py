"""The second sheet, for the engineer: every series, the whole path, the figures of RFC 6349."""

from __future__ import annotations

from agent.record import Kind, PathStatistics, Record
from agent.sheet.address_rows import address_block
from agent.sheet.catalogue import words
from agent.sheet.delays import delay_table
from agent.sheet.model import Detail, Pair, Pairs, Table
from agent.sheet.name_rows import dns_table, web_table
from agent.sheet.numbers import quantity
from agent.sheet.path_rows import hop_pairs
from agent.sheet.pick import picked
from agent.sheet.rates import rate_table
from agent.sheet.sentences import longer_listings
from agent.sheet.spreads import every_spread
from agent.sheet.support import TRUTHS_ON_PAGE, practice_block
from agent.sheet.wording import LINE, bounded, more

MOST_SERIES, MOST_HOPS = 20, 40


def build_detail(record: Record) -> Detail:
    """Return what the second sheet shows of a record."""
    tables = (delay_table(record, MOST_SERIES), rate_table(record), *_named(record))
    blocks = (_path(record), address_block(record), *_played(record), _program(record))
    return Detail(
        title=words.DETAIL,
        spreads=every_spread(record),
        tables=tuple(table for table in tables if table.rows),
        facts=tuple(block for block in blocks if block.pairs),
        listings=longer_listings(record),
    )


def _named(record: Record) -> tuple[Table, ...]:
    return dns_table(record), web_table(record)


def _path(record: Record) -> Pairs:
    """Return every hop of the first walk."""
    found = picked(record, PathStatistics, Kind.PATH)
    rows = list(hop_pairs(found[0][1])) if found else []
    return Pairs(
        title=words.LABEL["path"],
        pairs=tuple(rows[:MOST_HOPS]),
        more=more(len(rows) - MOST_HOPS),
    )


def _played(record: Record) -> tuple[Pairs, ...]:
    """Return all of the practice network's truth where the first sheet has no room for it."""
    practice = record.practice
    whole = practice is not None and len(practice.truth) > TRUTHS_ON_PAGE
    return (practice_block(record),) if whole else ()


def _program(record: Record) -> Pairs:
    """Return what measured: program, system, this laptop's own check, settings."""
    agent, label = record.agent, words.LABEL
    check = agent.laptop_check
    carried = (
        words.CHECKED.format(
            day=bounded(check.checked, 10),
            down=quantity(check.down_bps, "bps"),
            up=quantity(check.up_bps, "bps"),
        )
        if check is not None
        else ""
    )
    told = (
        (label["program"], f"doorstep {agent.version}, Python {agent.python}"),
        (label["system"], agent.platform),
        (label["check"], carried),
        (label["settings"], record.settings_sha256),
    )
    pairs = tuple(Pair(label=name, value=bounded(value, LINE)) for name, value in told if value)
    return Pairs(title=label["measured_by"], pairs=pairs)
