"""The page of a record that a newer program wrote: which one it is, and nothing read into it."""

from __future__ import annotations

from collections.abc import Mapping

from agent.record.model import RECORD_VERSION
from agent.sheet.catalogue import speaking, words
from agent.sheet.formats import place
from agent.sheet.model import Detail, Headline, Listing, Mark, NextStep, Pair, Sheet
from agent.sheet.numbers import DASH
from agent.sheet.view import PLAIN, Dress, brand_of, labels_of, proof_of
from agent.sheet.wording import SHORT, bounded


def unread_sheet(document: Mapping[str, object], dress: Dress = PLAIN) -> Sheet:
    """Return a page that names a record of a later version, and says how to open it.

    Number, hash and version are all that is taken from the document, as texts.
    """
    with speaking(dress.language):
        return _unread(document, dress)


def _unread(document: Mapping[str, object], dress: Dress) -> Sheet:
    number, version = _text(document.get("record_id")), _text(document.get("record_version"))
    seal = document.get("integrity")
    digest = _text(seal.get("sha256"), 64) if isinstance(seal, Mapping) else ""
    reason = words.UNREAD_REASON.format(version=version or DASH, known=RECORD_VERSION)
    return Sheet(
        language=words.LANGUAGE,
        direction=place().direction,
        title=words.TITLE,
        brand=brand_of("", "", dress),
        dated="",
        started="",
        banners=(),
        headline=Headline(mark=Mark.OPEN, verdict=words.UNREAD, reason=reason, beside=()),
        strip_title="",
        strip=(),
        rates_title="",
        rates=(),
        next_step=NextStep(title=words.NEXT_STEP, text=words.UNREAD_STEP),
        spreads=None,
        courses=None,
        promises_title="",
        promises=(),
        promises_more="",
        listings=(),
        facts=(),
        cautions=Listing(title=words.LABEL["cautions"], items=words.CAUTIONS),
        sign_off=None,
        ticket=Pair(label=words.TICKET, value=f"{words.UNREAD}; {words.LABEL['record']} {number}"),
        proof=proof_of(number, digest),
        labels=labels_of(number),
        detail=Detail(title=words.DETAIL, spreads=None, tables=(), facts=(), listings=()),
    )


def _text(value: object, length: int = SHORT) -> str:
    """Return a number or a text of a document that is not understood, as a short text."""
    return bounded(value, length) if isinstance(value, str | int) else ""
