"""What readings taken by hand usually show; printed beside them, judging nothing."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field

from agent.measurements.by_hand import ReadAt, ReadWhat
from agent.settings.frozen import Frozen

EVERYWHERE = tuple(ReadAt)


class UsualRange(Frozen):
    """The usual range of one kind of reading, ends included; an end left out is open.

    It speaks of readings taken at one of `at` only: a level before the splitters is another one.
    """

    low: float | None = None
    high: float | None = None
    unit: Literal["dBmV", "dB", "dBm", "Mbit/s", "ratio", "count"]
    at: Annotated[tuple[ReadAt, ...], Field(min_length=1)] = EVERYWHERE
    source: Annotated[str, Field(min_length=3)]
    reason: Annotated[str, Field(min_length=3)]


class UsualSet(Frozen):
    """The usual ranges of one access technology; a kind without one is shown without."""

    downstream_level: UsualRange | None = None
    downstream_snr: UsualRange | None = None
    upstream_level: UsualRange | None = None
    uncorrectable_ratio: UsualRange | None = None
    timeouts: UsualRange | None = None
    optical_receive: UsualRange | None = None
    dsl_margin_down: UsualRange | None = None
    dsl_margin_up: UsualRange | None = None
    dsl_sync_down: UsualRange | None = None
    dsl_sync_up: UsualRange | None = None
    radio_rsrp: UsualRange | None = None
    radio_sinr: UsualRange | None = None

    def of(self, where: str, what: str) -> UsualRange | None:
        """Return the range of a reading by its codes, None where none is known."""
        found: UsualRange | None = getattr(self, key_of(what), None) if what in _KINDS else None
        return found if found is not None and where in found.at else None


_KINDS = frozenset(kind.value for kind in ReadWhat)


def key_of(what: str) -> str:
    """Return the key of the settings for the code of a kind of reading."""
    return what.replace("-", "_")
