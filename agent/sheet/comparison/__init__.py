"""Two to four records side by side, and whether first and last differ beyond their intervals."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from agent.errors import UsageError
from agent.record import PathChange, Record, StoredRecord
from agent.sheet.catalogue import compare as said
from agent.sheet.catalogue import speaking, words
from agent.sheet.comparison.figures import figure_rows, rate_rows, relimited, told_once
from agent.sheet.comparison.labels import column_labels, in_order
from agent.sheet.comparison.model import Comparison, Labels
from agent.sheet.comparison.rows import (
    build_column,
    changed,
    circumstances,
    fact_rows,
    findings_row,
    when_row,
)
from agent.sheet.comparison.spreads import spread_rows
from agent.sheet.formats import place
from agent.sheet.headline import tier_text
from agent.sheet.model import Brand, Listing
from agent.sheet.strip import ORDER
from agent.sheet.view import PLAIN, Dress, brand_of, practised
from agent.sheet.wording import SHORT, bounded

FEWEST, MOST = 2, 4
MOST_NAMED = 3


def build_comparison(
    records: Sequence[StoredRecord], path: PathChange | None = None, *, dress: Dress = PLAIN
) -> Comparison:
    """Return two to four records side by side, in the order given. Raises UsageError.

    `path` says how the walk of the last compares with that of the first.
    """
    with speaking(dress.language):
        if not FEWEST <= len(records) <= MOST:
            raise UsageError(
                problem=said.COUNT.format(count=len(records)), remedy=said.COUNT_REMEDY
            )
        return _built(records, path, dress)


def _built(records: Sequence[StoredRecord], path: PathChange | None, dress: Dress) -> Comparison:
    bare = [stored.record for stored in records]
    names = column_labels(bare)
    columns = tuple(build_column(*pair) for pair in zip(records, names, strict=True))
    common, differing = circumstances(records, names)
    rates, (figures, rest) = rate_rows(bare), figure_rows(bare)
    told = told_once((*rates, *figures))
    return Comparison(
        language=words.LANGUAGE,
        direction=place().direction,
        title=said.TITLE,
        brand=_brand(records, dress),
        started=bare[-1].started,
        banners=tuple(_banners(records, names)),
        common=common,
        columns=columns,
        verdict_change=changed([one.verdict for one in columns]),
        place_change=changed([one.place for one in columns]),
        step_change=changed([one.step for one in columns]),
        about=(when_row(records), *differing, *findings_row(records)),
        rates_title=words.LABEL["rates"],
        rates=told[: len(rates)],
        spreads=spread_rows(bare),
        figures_title=words.LABEL["promises"],
        figures=told[len(rates) :],
        figures_more=rest,
        facts_title=said.FACTS,
        facts=fact_rows(records, path),
        note=said.NOTE,
        marks=said.MARKS,
        cautions=Listing(title=words.LABEL["cautions"], items=words.CAUTIONS),
        how=said.HOW_TO_VERIFY,
        labels=_labels(),
    )


def _labels() -> Labels:
    return Labels(
        change=said.DIFFERENCE,
        common=said.COMMON,
        verdict=said.VERDICTS,
        place=said.LABEL["segment"],
        order=said.ORDER.format(names=", ".join(words.SEGMENT_IN_LINE[s] for s in ORDER)),
        step=said.LABEL["step"],
        accepted=words.LABEL["accepted"],
        sold=words.LABEL["sold"],
    )


def _brand(records: Sequence[StoredRecord], dress: Dress) -> Brand:
    """Return whose page it is; nobody's where a record is redacted or they are of several."""
    if any(stored.redacted for stored in records):
        return Brand()
    owners = {(s.record.private.company or "", s.record.private.contact or "") for s in records}
    company, contact = owners.pop() if len(owners) == 1 else ("", "")
    return brand_of(company, contact, dress)


def _banners(records: Sequence[StoredRecord], names: Sequence[str]) -> Iterator[str]:
    states = (
        (words.BANNER_PRACTICE, [practised(stored.record) for stored in records]),
        (words.BANNER_REDACTED, [stored.redacted for stored in records]),
        (words.BANNER_UNSEALED, [not stored.sha256 for stored in records]),
    )
    for text, holds in states:
        if all(holds):
            yield text
        elif any(holds):
            where = [name for name, held in zip(names, holds, strict=True) if held]
            yield said.ONLY_IN.format(columns=", ".join(where), banner=text)
    unlike = " ".join(_unlike([stored.record for stored in records]))
    if unlike:
        yield unlike


def _unlike(records: Sequence[Record]) -> Iterator[str]:
    """Yield what sets the records apart before any figure is looked at."""
    orders = [bounded(r.private.work_order or "", SHORT) for r in records]
    servers = [bounded(r.server.id or "", SHORT) for r in records if r.server]
    told = (
        (said.ORDERS, [order for order in orders if order]),
        (said.TIERS, [tier_text(r) for r in records]),
        (said.SERVERS, [server for server in servers if server]),
    )
    for template, found in told:
        several = list(dict.fromkeys(found))
        if len(several) > 1:
            yield template.format(count=len(several), names=", ".join(several))
    limits = relimited(records)
    if limits:
        yield said.LIMITS.format(names=_listed(limits))
    settings = {r.settings_sha256 for r in records}
    if len(settings) > 1:
        yield said.SETTINGS.format(count=len(settings))
    if in_order(records) is False:
        yield said.BACKWARDS


def _listed(names: Sequence[str]) -> str:
    shown, left = "; ".join(names[:MOST_NAMED]), len(names) - MOST_NAMED
    return said.AND_MORE.format(names=shown, count=left) if left > 0 else shown
