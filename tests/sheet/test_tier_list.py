"""The list of tiers on a terminal: every figure with its unit and layer, 80 columns."""

from dataclasses import replace

import pytest

from agent.record.model import TierFacts
from agent.sheet.tiers import Offer, promised, tier_lines

M = 1_000_000
FULL = Offer(
    facts=TierFacts(
        name="Tern Bay 300/30",
        down_bps=300 * M,
        up_bps=30 * M,
        layer="docsis-frame",
        accept_down=0.9,
        accept_up=0.85,
        provisioned=1.1,
        minimum_down_bps=180 * M,
        minimum_up_bps=18 * M,
        normal_down_bps=270 * M,
        normal_up_bps=27 * M,
        maximum_down_bps=300 * M,
        maximum_up_bps=30 * M,
        advertised_down_bps=300 * M,
        advertised_up_bps=30 * M,
    ),
    access="wireless",
    delay_ms=30.0,
    loss_ratio=0.005,
    note="sold until 2025",
)
BARE = Offer(
    facts=TierFacts(
        name="Air", down_bps=1_500_000, up_bps=64_000, layer="ip", accept_down=0.8, accept_up=0.8
    ),
    access="dsl",
)


def printed(*offers, width=80):
    return "\n".join(tier_lines(offers, width))


def test_everything_sold_accepted_set_and_promised_stands_there():
    text = " ".join(printed(FULL).split())
    for part in (
        "Tern Bay 300/30 300 / 30 DOCSIS frame fixed wireless 90 % / 85 %",
        "at least 180 / 18, normally 270 / 27, at most 300 / 30, advertised 300 / 30",
        "set to 1.1 times the rates, delay 30 ms, loss 0.5 %, note: sold until 2025",
    ):
        assert part in text


def test_rates_below_a_megabit_keep_their_digits_and_nothing_unsaid_is_shown():
    text = printed(BARE)
    assert "1.5 / 0.064" in text
    assert list(promised(BARE)) == []
    assert text.splitlines()[-1].strip() == "1 tier"


@pytest.mark.parametrize("name", ["x" * 80, "Tern Bay " * 8, "a\x1b[31mb\u202ec"])
def test_no_name_breaks_the_width_or_reaches_the_terminal_raw(name):
    odd = replace(FULL, facts=replace(FULL.facts, name=name))
    text = printed(odd, BARE)
    assert max(map(len, text.splitlines())) <= 80
    assert "\x1b" not in text
    assert "\u202e" not in text


def test_the_columns_of_all_rows_stand_below_each_other():
    head, *lines = printed(FULL, BARE).splitlines()
    place = head.index("Counted in")
    assert [line[place:].split("  ")[0] for line in lines if "/" in line[:30]][:1] == [
        "DOCSIS frame"
    ]
    assert any(line[place:].startswith("IP") for line in lines)
