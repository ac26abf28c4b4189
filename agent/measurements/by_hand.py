"""What a person reads off a line by meter or from the equipment's own page: where, what, unit."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum


class ReadAt(StrEnum):
    """Where it was read; everything past the entry is the home's to mend.

    `entry` is the ground block, network interface device or first box in the building, `outlet`
    the wall plate.
    """

    TAP = "tap"
    ENTRY = "entry"
    OUTLET = "outlet"
    MODEM = "modem"
    ONT = "ont"


class ReadWhat(StrEnum):
    """What was read.

    The downstream SNR is the modulation error ratio (MER) where a meter tells that. Uncorrectable
    codewords as a ratio of all, and T3 and T4 timeouts, are those since the visit began: totals
    since the modem's restart prove nothing.
    """

    DOWNSTREAM_LEVEL = "downstream-level"
    DOWNSTREAM_SNR = "downstream-snr"
    UPSTREAM_LEVEL = "upstream-level"
    UNCORRECTABLE_RATIO = "uncorrectable-ratio"
    TIMEOUTS = "timeouts"
    OPTICAL_RECEIVE = "optical-receive"
    DSL_MARGIN_DOWN = "dsl-margin-down"
    DSL_MARGIN_UP = "dsl-margin-up"
    DSL_SYNC_DOWN = "dsl-sync-down"
    DSL_SYNC_UP = "dsl-sync-up"
    RADIO_RSRP = "radio-rsrp"
    RADIO_SINR = "radio-sinr"


@dataclass(frozen=True, slots=True, kw_only=True)
class Figure:
    """How one kind of reading is kept: its unit, and what no line and no equipment shows.

    Outside `lowest` to `highest` a figure is a slip of the pen, or stands in another unit.
    """

    unit: str
    lowest: float
    highest: float


_LEVEL = Figure(unit="dBmV", lowest=-50, highest=50)
_MARGIN = Figure(unit="dB", lowest=-64, highest=63)
_SYNC = Figure(unit="Mbit/s", lowest=0, highest=10_000)

FIGURES = {
    ReadWhat.DOWNSTREAM_LEVEL: _LEVEL,
    ReadWhat.DOWNSTREAM_SNR: Figure(unit="dB", lowest=0, highest=60),
    ReadWhat.UPSTREAM_LEVEL: Figure(unit="dBmV", lowest=-10, highest=70),
    ReadWhat.UNCORRECTABLE_RATIO: Figure(unit="ratio", lowest=0, highest=1),
    ReadWhat.TIMEOUTS: Figure(unit="count", lowest=0, highest=100_000),
    ReadWhat.OPTICAL_RECEIVE: Figure(unit="dBm", lowest=-50, highest=10),
    ReadWhat.DSL_MARGIN_DOWN: _MARGIN,
    ReadWhat.DSL_MARGIN_UP: _MARGIN,
    ReadWhat.DSL_SYNC_DOWN: _SYNC,
    ReadWhat.DSL_SYNC_UP: _SYNC,
    ReadWhat.RADIO_RSRP: Figure(unit="dBm", lowest=-156, highest=-20),
    ReadWhat.RADIO_SINR: Figure(unit="dB", lowest=-30, highest=50),
}
"""The bounds are wide on purpose: DOCSIS modems take -15 to +15 dBmV and send 65 dBmV at most,
DSL tells margins of -64 to +63 dB (ITU-T G.997.1 §7.5.1), a radio reports -156 to -31 dBm and -23
to +40 dB (3GPP TS 36.133 §9.1, TS 38.133 §10.1); all from memory."""

BARE = ("ratio", "count")
"""Units that nobody writes behind the number."""

DBUV_ABOVE_DBMV = 60
"""A level in dBµV stands so far above the same in dBmV: 1 mV is 1000 µV, 20·log10 of that."""
