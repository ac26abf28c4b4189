"""Usual ranges of readings: what is shipped, and what a company may write in its place."""

import pytest

from agent.errors import SettingsError
from agent.measurements.by_hand import FIGURES, ReadAt, ReadWhat
from agent.settings.loader import load
from agent.settings.model import Access
from agent.settings.usual import UsualSet, key_of

SHIPPED = load(None, {}, {}).settings.usual
HERE = (ReadAt.OUTLET, ReadAt.MODEM)
EVERYWHERE = tuple(ReadAt)

# Common practice, no source: low, high, where it holds.
TRADE = {
    (Access.FIBRE, ReadWhat.OPTICAL_RECEIVE): (-25, -8, EVERYWHERE),
    (Access.CABLE, ReadWhat.DOWNSTREAM_LEVEL): (-8, 8, HERE),
    (Access.CABLE, ReadWhat.DOWNSTREAM_SNR): (35, None, EVERYWHERE),
    (Access.CABLE, ReadWhat.UPSTREAM_LEVEL): (38, 48, HERE),
    (Access.CABLE, ReadWhat.UNCORRECTABLE_RATIO): (None, 1e-6, EVERYWHERE),
    (Access.CABLE, ReadWhat.TIMEOUTS): (0, 0, EVERYWHERE),
    (Access.DSL, ReadWhat.DSL_MARGIN_DOWN): (6, None, EVERYWHERE),
    (Access.DSL, ReadWhat.DSL_MARGIN_UP): (6, None, EVERYWHERE),
    (Access.WIRELESS, ReadWhat.RADIO_RSRP): (-100, None, EVERYWHERE),
    (Access.WIRELESS, ReadWhat.RADIO_SINR): (10, None, EVERYWHERE),
}


def shipped(access, kind):
    return getattr(SHIPPED[access], key_of(kind.value))


@pytest.mark.parametrize("access", Access)
@pytest.mark.parametrize("kind", ReadWhat)
def test_shipped_ranges_are_those_of_the_trade_and_say_that_they_have_no_source(access, kind):
    found = shipped(access, kind)
    named = [value for (_, known), value in TRADE.items() if known is kind]
    expected = TRADE.get((access, kind)) if access is not Access.UNKNOWN else (named or [None])[0]
    if expected is None:
        assert found is None
        return
    assert (found.low, found.high, found.at) == expected
    assert (found.unit, found.source) == (FIGURES[kind].unit, "common practice, no source")


# DOCSIS PHYv3.0, what a modem takes on one channel (second-hand); RFIv2.0 and PHYv3.0, what it can
# send with 64-QAM on any number of channels; PHYv3.0, the ratio that 256-QAM needs at weak levels;
# ITU-T G.984.2 class B+. All from memory.
@pytest.mark.parametrize(
    ("kind", "low", "high"),
    [
        (ReadWhat.DOWNSTREAM_LEVEL, -15, 15),
        (ReadWhat.UPSTREAM_LEVEL, 23, 51),
        (ReadWhat.DOWNSTREAM_SNR, 33, None),
        (ReadWhat.OPTICAL_RECEIVE, -27, -8),
    ],
)
def test_a_shipped_range_leaves_no_standard(kind, low, high):
    found = shipped(Access.UNKNOWN, kind)
    assert found.low >= low
    assert high is None or found.high <= high


def test_every_kind_has_a_key_and_every_key_its_kind():
    assert set(UsualSet.model_fields) == {key_of(kind.value) for kind in ReadWhat}


RANGE = "unit = 'dB'\nsource = 'own'\nreason = 'own'\n"


@pytest.mark.parametrize(
    ("content", "key", "found", "allowed"),
    [
        (
            "[usual.cable.downstream_level]\nunit = 'dB'\n",
            "usual.cable.downstream_level.unit",
            '"dB"',
            '"dBmV"',
        ),
        (
            "[usual.cable.downstream_level]\nunit = 'dBuV'\n",
            "usual.cable.downstream_level.unit",
            '"dBuV"',
            '"dBmV"',
        ),
        (
            f"[usual.wireless.downstream_snr]\n{RANGE}",
            "usual.wireless.downstream_snr",
            "neither low nor high",
            "one of them",
        ),
        (
            "[usual.cable.downstream_level]\nlow = 9\n",
            "usual.cable.downstream_level.low",
            "9, above high",
            "at most 8",
        ),
        (
            "[usual.dsl.dsl_margin_down]\nlow = nan\n",
            "usual.dsl.dsl_margin_down.low",
            "nan",
            "a number",
        ),
        (
            "[usual.cable]\ndownstream_levl = {}\n",
            "usual.cable.downstream_levl",
            "unknown",
            "level?",
        ),
        (
            "[usual.cable.upstream_level]\nat = ['attic']\n",
            "usual.cable.upstream_level.at[0]",
            '"attic"',
            '"outlet"',
        ),
        ("[usual.fiber]\n", "usual.fiber", '"fiber"', "did you mean fibre?"),
    ],
)
def test_a_range_that_cannot_be_is_a_fault_at_its_place(tmp_path, content, key, found, allowed):
    path = tmp_path / "company.toml"
    path.write_text(content)
    with pytest.raises(SettingsError) as caught:
        load(path, {}, {})
    faults = [fault for fault in caught.value.faults if fault.key == key]
    assert faults, caught.value.faults
    assert faults[0].place == str(path)
    assert found in faults[0].found
    assert allowed in faults[0].allowed


def test_a_company_may_write_one_end_or_one_place_alone(tmp_path):
    path = tmp_path / "company.toml"
    path.write_text(
        "[usual.cable]\ndownstream_level = { low = -6 }\nupstream_level = { at = ['modem'] }\n"
    )
    usual = load(path, {}, {}).settings.usual[Access.CABLE]
    assert (usual.downstream_level.low, usual.downstream_level.high) == (-6, 8)
    assert usual.of("modem", "upstream-level") is not None
    assert usual.of("outlet", "upstream-level") is None
    assert usual.of("modem", "of") is None
