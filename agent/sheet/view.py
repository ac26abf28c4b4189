"""From a record to what stands on its sheet; pure, and the same for every face."""

from __future__ import annotations

from dataclasses import dataclass

from agent.record import Record, StoredRecord, Verdict
from agent.sheet.bars import promise_bars, rate_bars
from agent.sheet.catalogue import since, speaking, words
from agent.sheet.courses import build_courses
from agent.sheet.detail import build_detail
from agent.sheet.formats import place
from agent.sheet.headline import build_headline, build_next_step
from agent.sheet.model import Brand, Labels, Listing, Proof, Sheet
from agent.sheet.sentences import listings
from agent.sheet.sign_off import build_sign_off
from agent.sheet.since import since_listing
from agent.sheet.spreads import page_spreads
from agent.sheet.strip import build_strip
from agent.sheet.support import facts
from agent.sheet.ticket import ticket_line
from agent.sheet.when import local_time
from agent.sheet.wording import SHORT, bounded, more

HASH_SHOWN = 16
GROUP = 4


@dataclass(frozen=True, slots=True, kw_only=True)
class Anew:
    """That conclusions were drawn again: by which settings, and what the record itself concluded.

    `same` says that the settings are those of the visit, `same_tier` that the rates are.
    """

    settings: str
    sha256: str
    verdict: Verdict
    same: bool = False
    same_tier: bool = True


@dataclass(frozen=True, slots=True, kw_only=True)
class Dress:
    """What a company's settings add to a page: its language (BCP 47), and the logo and footer.

    `logo` is a data URI of a picture that was made harmless, `logo_ratio` its width over height.
    """

    language: str = "en"
    footer: str = ""
    logo: str = ""
    logo_ratio: float = 1.0


PLAIN = Dress()


def build_sheet(
    stored: StoredRecord, *, judged_anew: Anew | None = None, dress: Dress = PLAIN
) -> Sheet:
    """Return the view model of one record, judged anew where that is told, in a company's dress."""
    with speaking(dress.language):
        return _built(stored, judged_anew, dress)


def _built(stored: StoredRecord, judged_anew: Anew | None, dress: Dress) -> Sheet:
    record = stored.record
    promises, left_out = promise_bars(record)
    return Sheet(
        language=words.LANGUAGE,
        direction=place().direction,
        title=words.TITLE,
        brand=_brand(stored, dress),
        dated=local_time(record),
        started=record.started,
        banners=_banners(stored, judged_anew),
        headline=build_headline(record),
        strip_title=words.STRIP,
        strip=build_strip(record),
        rates_title=words.LABEL["rates"],
        rates=rate_bars(record),
        next_step=build_next_step(record),
        spreads=page_spreads(record),
        courses=build_courses(record),
        promises_title=words.LABEL["promises"],
        promises=promises,
        promises_more=more(left_out),
        listings=(*listings(record), *_since(record)),
        facts=facts(record),
        cautions=Listing(title=words.LABEL["cautions"], items=words.CAUTIONS),
        sign_off=build_sign_off(record),
        ticket=ticket_line(record),
        proof=proof_of(record.record_id, stored.sha256),
        labels=labels_of(record.record_id),
        detail=build_detail(record),
    )


def _brand(stored: StoredRecord, dress: Dress) -> Brand:
    """Return whose page it is; a redacted one is nobody's."""
    private = stored.record.private
    if stored.redacted:
        return Brand()
    return brand_of(private.company or "", private.contact or "", dress)


def brand_of(company: str, contact: str, dress: Dress) -> Brand:
    """Return a company's name and contact with what its settings add."""
    return Brand(
        company=bounded(company, 60),
        contact=bounded(contact, 60),
        footer=bounded(dress.footer, 120),
        logo=dress.logo,
        logo_ratio=dress.logo_ratio,
    )


def labels_of(record_id: str) -> Labels:
    """Return the words that faces put beside what they draw, for a record's number."""
    label = words.LABEL
    return Labels(
        accepted=label["accepted"],
        sold=label["sold"],
        record=label["record"],
        hash=label["hash"],
        continued=words.CONTINUED.format(number=bounded(record_id, SHORT)),
    )


def practised(record: Record) -> bool:
    """Return True where a practice network played the line, in whole or in part."""
    played = any(getattr(one.measurement.observed, "injected", ()) for one in record.measured)
    return record.practice is not None or played or any(c.injected for c in record.conditions)


def _banners(stored: StoredRecord, anew: Anew | None) -> tuple[str, ...]:
    shown = (
        (practised(stored.record), words.BANNER_PRACTICE),
        (anew is not None, _anew_text(stored.record.assessment.verdict, anew) if anew else ""),
        (stored.redacted, words.BANNER_REDACTED),
        (not stored.sha256, words.BANNER_UNSEALED),
    )
    return tuple(text for holds, text in shown if holds)


def _anew_text(verdict: Verdict, anew: Anew) -> str:
    stands = verdict is anew.verdict
    told = since.VERDICT_STANDS if stands else since.VERDICT_DIFFERS
    template = since.ANEW_SAME if anew.same else since.ANEW
    said = template.format(
        settings=bounded(anew.settings, SHORT),
        sha256=bounded(anew.sha256, 64)[:HASH_SHOWN],
        verdict=told.format(verdict=words.VERDICT[anew.verdict]),
    )
    parts = (said, "" if anew.same_tier else since.TIER_DIFFERS, since.NOT_STORED)
    return " ".join(part for part in parts if part)


def _since(record: Record) -> tuple[Listing, ...]:
    found = since_listing(record)
    return () if found is None else (found,)


def proof_of(record_id: str, digest: str) -> Proof:
    """Return how a page is checked against its record: number, hash, and the square code."""
    number, sha256 = bounded(record_id, SHORT), bounded(digest, 64)
    groups = (sha256[i : i + GROUP] for i in range(0, min(HASH_SHOWN, len(sha256)), GROUP))
    return Proof(
        record_id=number,
        sha256=sha256,
        hash_short=" ".join(groups),
        how=words.HOW_TO_VERIFY,
        code_text=f"doorstep {number} sha256 {sha256}",
    )
