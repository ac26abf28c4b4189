"""The page of a practice visit as a trainee gets it: every figure, nothing of the diagnosis."""

from __future__ import annotations

from dataclasses import replace

from agent.record import Record, Segment, StoredRecord
from agent.sheet.catalogue import training as said
from agent.sheet.catalogue import words
from agent.sheet.model import Cell, Ground, NextStep, Pair, Proof, Sheet
from agent.sheet.numbers import DASH
from agent.sheet.spreads import every_spread
from agent.sheet.view import build_sheet


def training_sheet(stored: StoredRecord) -> Sheet:
    """Return the page of a record without diagnosis and truth.

    It is made of a record that has none, so that no reason or row can be worded by a finding; rows
    that only a finding would have brought onto the page are all there.
    """
    record = _undiagnosed(stored.record)
    sheet = build_sheet(replace(stored, record=record))
    return without_diagnosis(replace(sheet, spreads=every_spread(record)))


def without_diagnosis(sheet: Sheet) -> Sheet:
    """Return a page without findings, next step and what the strip says of faults.

    That a practice network played is always said: for some faults only it would be. The hash is
    left out, since the truth is yet to come into the record.
    """
    banners = tuple(text for text in sheet.banners if text != words.BANNER_PRACTICE)
    listings = tuple(one for one in sheet.listings if one.title != words.LABEL["findings"])
    facts = tuple(one for one in sheet.facts if one.title != words.LABEL["practice"])
    return replace(
        sheet,
        title=said.TITLE,
        banners=(words.BANNER_PRACTICE, *banners),
        strip=tuple(map(_seen, sheet.strip)),
        next_step=NextStep(title=said.YOUR_TURN, text=said.TURN_TEXT),
        listings=listings,
        facts=facts,
        sign_off=None,
        ticket=Pair(label=words.TICKET, value=DASH),
        detail=replace(
            sheet.detail,
            listings=(),
            facts=tuple(one for one in sheet.detail.facts if one.title != words.LABEL["practice"]),
        ),
        proof=Proof(
            record_id=DASH, sha256=DASH, hash_short=DASH, how=said.PROOF_LATER, code_text=""
        ),
    )


def _seen(cell: Cell) -> Cell:
    """Return a segment with no more than whether anything came from there."""
    if cell.ground in (Ground.UNREACHED, Ground.UNKNOWN, Ground.ABSENT):
        return cell
    return replace(cell, ground=Ground.CLEAR, state=said.STRIP_SEEN)


def _undiagnosed(record: Record) -> Record:
    diagnosis = replace(record.diagnosis, segment=Segment.UNDETERMINED, findings=())
    return replace(record, diagnosis=diagnosis, practice=None)
