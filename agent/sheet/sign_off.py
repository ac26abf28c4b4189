"""What is filled in by hand on paper, once the visit is over."""

from __future__ import annotations

from agent.record import Record
from agent.sheet.catalogue import words
from agent.sheet.model import SignOff
from agent.sheet.wording import bounded

ALONE = "help-desk"
"""A customer who runs it alone, on the phone with a help desk, signs nothing."""
NAME = 40


def build_sign_off(record: Record) -> SignOff | None:
    """Return what is to tick and to sign, None where nobody is there to do it."""
    if record.visit.purpose == ALONE:
        return None
    name = bounded(record.private.technician or "", NAME)
    technician = words.SIGNED_BY.format(role=words.LABEL["technician"], name=name)
    return SignOff(
        title=words.SIGNED,
        ticks_title=words.TICKS_TITLE,
        ticks=words.TICKS,
        lines=(words.CUSTOMER, technician if name else words.LABEL["technician"]),
        instead=words.NOT_SIGNED,
    )
