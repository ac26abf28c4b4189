"""What keeps a laptop from judging a line is named, with a place and a step."""

import pytest
from visits import (
    ALONE,
    calm,
    down,
    first_hop,
    gateway,
    judge,
    link,
    modem,
    server,
    tier,
    visit,
)

from agent.diagnosis.laptop import ON_WIRELESS, RULES, USB_BUS_BELOW_TIER
from agent.measurements import LaptopCheck, Medium
from agent.settings.model import PluggedInto
from agent.sheet.catalogue import areas
from agent.sheet.wording import finding_sentence

LATE = (gateway(rtt_ms=4.0), modem(rtt_ms=4.4), first_hop(rtt_ms=9.0), server(rtt_ms=13.0))
CHECK = LaptopCheck(
    device_id="a1",
    checked="2026-02-01T08:00:00Z",
    interface="lan0",
    medium=Medium.WIRED,
    speed_bps=1_000_000_000,
    down_bps=60e6,
)

SLOW_LAPTOP = (gateway(rtt_ms=90.0), server(rtt_ms=400.0))

CASES = {
    "laptop-on-wireless": ((), {"medium": Medium.WIRELESS}, {}, "home"),
    "laptop-clock-off": ((), {"clock_offset_ms": 7.2e6}, {}, "laptop"),
    "usb-bus-below-tier": ((link(bus_bps=12_000_000), down(9e6)), {}, {}, "laptop"),
    "laptop-check-below-tier": ((), {}, {"laptop_check": CHECK}, "laptop"),
    "laptop-saves-power": ((), {"power_saver": "low-power"}, {}, "laptop"),
    "laptop-memory-low": ((), {"memory_free_ratio": 0.01}, {}, "laptop"),
    "laptop-busy": (SLOW_LAPTOP, {"cpu_ratio": 0.99}, {"sold": tier(delay_ms=20.0)}, "laptop"),
    "laptop-has-other-traffic": ((), {"other_traffic_bps": 9e6}, {}, "laptop"),
    "hidden-hop": (LATE, {}, {"plugged_into": PluggedInto.ROUTER}, "home"),
}


def found(changes, reading, stated):
    judged = judge(visit(*changes), conditions=(calm(**reading),), circumstances=ALONE, **stated)
    return {one.code: one for one in judged.diagnosis.findings}


def test_every_rule_is_tried():
    every = (*RULES, ON_WIRELESS, USB_BUS_BELOW_TIER)
    assert {rule.code for rule in every} == set(CASES)


@pytest.mark.parametrize("code", sorted(CASES))
def test_it_is_named_with_its_place_and_a_step(code):
    *given, segment = CASES[code]
    one = found(*given)[code]
    assert one.segment == segment
    assert one.next_step in areas.STEP


@pytest.mark.parametrize("code", sorted(CASES))
def test_its_sentence_fits_and_leaves_nothing_unfilled(code):
    one = found(*CASES[code][:3])[code]
    said = finding_sentence(code, one.values)
    assert len(said) <= 150
    assert not set("{}\N{EN DASH}") & set(said)


def test_a_sound_laptop_has_none_of_it():
    assert not set(found((), {}, {})) & set(CASES)


def test_a_busy_processor_that_costs_nothing_is_not_blamed():
    assert "laptop-busy" not in found((), {"cpu_ratio": 0.99}, {})
    # Without a promise in the tier, delay to the server decides nothing.
    assert "laptop-busy" not in found(SLOW_LAPTOP, {"cpu_ratio": 0.99}, {})


def test_one_that_a_missed_rate_names_is_not_named_again():
    codes = found((down(50e6),), {"power_saver": "quiet", "memory_free_ratio": 0.01}, {})
    assert codes["slow-not-attributable"].values["fact"] == "power_saver"
    assert codes["slow-not-attributable"].next_step == "switch-saver-off"
    assert "laptop-saves-power" not in codes
    assert "laptop-memory-low" in codes
