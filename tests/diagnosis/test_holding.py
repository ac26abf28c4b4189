"""Who holds a missed rate: home, network past the line, another product's setting."""

import pytest
from visits import down, filled, judge, server, settings, tier, up, visit

from agent.assessment.model import Verdict
from agent.measurements import Direction, Role
from agent.settings.model import Layer, PluggedInto

DOWN, UP = Direction.DOWN, Direction.UP


def slow(rate_bps=50e6, *, again="throughput-again"):
    """Two downloads that agree."""
    return down(rate_bps), down(rate_bps, id=again)


def told(*changes, **stated):
    stated = {"plugged_into": PluggedInto.ROUTER, **stated}
    found = judge(visit(*changes), **stated)
    first = found.diagnosis.findings[0] if found.diagnosis.findings else None
    return found.assessment.verdict, first


@pytest.mark.parametrize(
    ("risen_from", "code", "segment", "verdict"),
    [
        (Role.GATEWAY, "held-in-home", "home", Verdict.NOT_PROVEN),
        (Role.MODEM, "held-in-home", "home", Verdict.NOT_PROVEN),
        (Role.FIRST_HOP, "slow-line", "access", Verdict.BELOW),
        (Role.SERVER, "held-past-line", "operator", Verdict.BELOW),
    ],
)
def test_the_queue_places_what_holds_a_missed_rate(risen_from, code, segment, verdict):
    """Full rate at the modem and half behind the router: the service meets, the router limits."""
    found, first = told(*slow(), *filled(DOWN, risen_from))
    assert (first.code, first.segment.value, found) == (code, segment, verdict)


def test_a_rate_that_is_kept_is_held_by_nobody():
    for risen_from in (Role.GATEWAY, Role.SERVER):
        verdict, first = told(*filled(DOWN, risen_from))
        assert (verdict, first) == (Verdict.MEETS, None)


def test_what_is_held_rests_on_the_series_that_show_it():
    series = filled(DOWN, Role.SERVER)
    _, first = told(*slow(), *series)
    beside = {m.id for m in series if m.role in (Role.FIRST_HOP, Role.SERVER)}
    assert beside <= set(first.evidence)
    assert first.values["rise_ms"] == pytest.approx(30.0, abs=1.0)


def payload(rate_bps, share=1.0):
    """What full packets with time stamps carry of a rate at layer ip: 1448 of 1500 octets."""
    return rate_bps * share * 1448 / 1500


FIFTY = tier("Tern Bay 50/10")


def carries(product, *, down_off=1.0, up_off=1.0):
    """Both directions twice, at what a product is provisioned at, give or take a share."""
    share = product.provisioned
    down_bps = payload(product.down_bps, share) * down_off
    up_bps = payload(product.up_bps, share) * up_off
    return (*slow(down_bps), up(up_bps), up(up_bps, id="throughput-up-again"))


def test_a_line_set_to_another_product_says_which():
    verdict, first = told(*carries(FIFTY))
    assert verdict is Verdict.BELOW
    assert (first.code, first.values["profile"]) == ("other-profile", "Tern Bay 50/10")
    assert (first.segment.value, first.next_step) == ("operator", "check-provisioning")


@pytest.mark.parametrize(
    ("down_off", "up_off", "code"),
    [
        (0.985, 0.975, "other-profile"),
        (0.96, 1.0, "slow-line"),
        (1.0, 0.96, "slow-line"),
        (1.02, 1.0, "slow-line"),
    ],
)
def test_both_directions_must_sit_on_the_product(down_off, up_off, code):
    assert told(*carries(FIFTY, down_off=down_off, up_off=up_off))[1].code == code


def test_a_lossy_line_is_not_taken_for_another_product():
    _, first = told(*carries(FIFTY), server(up=24, down=24))
    assert first.code != "other-profile"


def test_the_product_sold_is_never_the_other_one():
    sold = tier(down_bps=200_000_000, up_bps=40_000_000)
    hundred = tier()
    _, first = told(*carries(hundred))
    assert first is None
    found = judge(visit(*carries(hundred)), sold=sold, plugged_into=PluggedInto.ROUTER)
    codes = [f.code for f in found.diagnosis.findings]
    assert codes[0] == "slow-line"


def test_a_product_is_compared_at_its_own_layer():
    """A docsis-frame holds 1518 octets where a packet of layer ip holds 1500."""
    product = FIFTY.model_copy(update={"layer": Layer.DOCSIS_FRAME, "name": "Framed"})
    rules = settings().model_copy(update={"tiers": (*settings().tiers, product)})
    framed = carries(FIFTY, down_off=1500 / 1518, up_off=1500 / 1518)
    found = judge(visit(*framed), rules=rules, plugged_into=PluggedInto.ROUTER)
    assert found.diagnosis.findings[0].values["profile"] == "Framed"


def test_another_subscribers_address_explains_another_subscribers_rate():
    """A swapped drop gives both: where the address tells it, nobody's profile is to be mended."""
    line = settings().line.model_copy(update={"expected_pools": ("203.0.113.0/24",)})
    rules = settings().model_copy(update={"line": line})
    found = judge(visit(*carries(FIFTY)), rules=rules, plugged_into=PluggedInto.ROUTER)
    assert [f.code for f in found.diagnosis.findings] == ["address-of-another-pool"]
