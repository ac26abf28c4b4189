"""Readings by hand: the bounds that refuse a slip hold everything that a standard lets equipment
show. All figures from memory, from the documents named beside them."""

import math

import pytest

from agent.measurements.by_hand import BARE, DBUV_ABOVE_DBMV, FIGURES, ReadWhat

# DOCSIS: what a modem takes on one channel (PHYv3.0, second-hand), and what it may send, from the
# quietest of RFIv2.0 to the total of PHYv3.1. ITU-T G.997.1 §7.5.1.13: signal-to-noise margin.
# ITU-T G.984.2 class B+: a GPON ONU takes -27 to -8 dBm; G.9807.1 N1, an XGS-PON one -28 to -9.
# 3GPP TS 38.133 §10.1.6 and §10.1.16: reporting ranges of SS-RSRP and SS-SINR; TS 36.133 §9.1.4
# reports RSRP up to -44 dBm.
SHOWN = [
    (ReadWhat.DOWNSTREAM_LEVEL, -15, 15),
    (ReadWhat.UPSTREAM_LEVEL, 8, 65),
    (ReadWhat.DSL_MARGIN_DOWN, -64, 63),
    (ReadWhat.DSL_MARGIN_UP, -64, 63),
    (ReadWhat.OPTICAL_RECEIVE, -28, -8),
    (ReadWhat.RADIO_RSRP, -156, -31),
    (ReadWhat.RADIO_SINR, -23, 40),
    (ReadWhat.UNCORRECTABLE_RATIO, 0, 1),
]


@pytest.mark.parametrize(("kind", "low", "high"), SHOWN, ids=[case[0].value for case in SHOWN])
def test_what_a_standard_lets_equipment_show_is_possible(kind, low, high):
    assert FIGURES[kind].lowest <= low
    assert high <= FIGURES[kind].highest


@pytest.mark.parametrize("kind", [ReadWhat.DOWNSTREAM_LEVEL, ReadWhat.UPSTREAM_LEVEL])
def test_a_level_with_the_wrong_of_two_units_is_not_possible(kind):
    """A good level in dBµV (-8 to +8 dBmV, common practice, no source) is no level in dBmV."""
    good = (-8, 8) if kind is ReadWhat.DOWNSTREAM_LEVEL else (38, 48)
    in_dbuv = [level + DBUV_ABOVE_DBMV for level in good]
    assert in_dbuv[0] > FIGURES[kind].highest
    assert in_dbuv[1] > FIGURES[kind].highest


@pytest.mark.parametrize("millivolts", [0.01, 0.5, 1.0, 3.2, 1000.0])
def test_both_units_of_level_tell_the_same_voltage(millivolts):
    """dBmV and dBµV are 20·log10 of the voltage over 1 mV and 1 µV (IEC 60728-1, from memory)."""
    dbmv, dbuv = 20 * math.log10(millivolts), 20 * math.log10(millivolts * 1000)
    assert dbuv - dbmv == pytest.approx(DBUV_ABOVE_DBMV, abs=1e-9)


def test_every_kind_has_its_figure_and_a_unit_that_is_written_or_known_bare():
    assert set(FIGURES) == set(ReadWhat)
    assert {figure.unit for figure in FIGURES.values()} == {"dBmV", "dB", "dBm", "Mbit/s", *BARE}
