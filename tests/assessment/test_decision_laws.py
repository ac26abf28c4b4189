"""Laws of the decision: what more loss, less data, narrower intervals may change, and what not."""

from dataclasses import replace
from functools import cache

import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from visits import (
    calm,
    criterion,
    cut_short,
    down,
    failed,
    judge,
    link,
    server,
    tier,
    visit,
)

from agent.assessment.decide import Reading, decide
from agent.assessment.model import Sense, Verdict
from agent.measurements import EchoOutcome, Medium, State
from agent.settings.model import Layer, Purpose

MEETS, BELOW, OPEN = Verdict.MEETS, Verdict.BELOW, Verdict.NOT_PROVEN
RANK = {BELOW: 0, OPEN: 1, MEETS: 2}
RULES = {"simple": Purpose.INSTALLATION, "guarded": Purpose.COMPLAINT}
LOSSES = ("server-loss", "server-loss-up", "server-loss-down")
FEW = settings(max_examples=40, deadline=None)


def series(fates):
    """A series to the server: each probe came back, or was lost on the way up or down."""
    whole = server(sent=len(fates))
    gone = [fate != "came" for fate in fates]
    observed = replace(
        whole.observed,
        rtt_ms=tuple(None if lost else 8.0 + n % 7 * 0.1 for n, lost in enumerate(gone)),
        outcome=tuple(EchoOutcome.LOST if lost else EchoOutcome.ANSWERED for lost in gone),
        copies=tuple(int(not lost) for lost in gone),
        arrival_order=tuple(n for n, lost in enumerate(gone) if not lost),
        far_received=tuple(fate != "up" for fate in fates),
    )
    return replace(whole, observed=observed)


@cache
def sold(loss_ratio):
    return tier(loss_ratio=loss_ratio)


def losses_of(fates, limit, rule):
    found = judge([link(), series(fates)], sold=sold(limit), purpose=RULES[rule])
    return {c.name: c for c in found.assessment.criteria if c.name in LOSSES}


@st.composite
def fates_and_one_more(draw, most):
    """The fates of probes lost here and there and in runs, and the place of one more loss."""
    sent = draw(st.sampled_from([400, 800]))
    fates = ["came"] * sent
    runs = st.tuples(
        st.integers(0, sent - 1), st.sampled_from([1, 1, 1, 2, 8]), st.sampled_from(["up", "down"])
    )
    for at, length, way in draw(st.lists(runs, max_size=most)):
        fates[at : at + length] = [way] * len(fates[at : at + length])
    place = draw(st.integers(0, sent - 1))
    assume(fates[place] == "came")
    return fates, place


@pytest.mark.parametrize("rule", RULES)
@pytest.mark.parametrize("limit", [0.005, 0.01])
@FEW
@given(st.data())
def test_one_more_lost_packet_never_makes_a_line_meet(rule, limit, data):
    """Not at the shipped limits, by any pattern."""
    fates, place = data.draw(fates_and_one_more(12))
    way = data.draw(st.sampled_from(["up", "down"]))
    more = [*fates[:place], way, *fates[place + 1 :]]
    before, after = losses_of(fates, limit, rule), losses_of(more, limit, rule)
    for name in before.keys() & after.keys():
        if after[name].outcome is MEETS:
            assert before[name].outcome is MEETS


@pytest.mark.parametrize("limit", [0.005, 0.01, 0.05])
@FEW
@given(st.data())
def test_one_more_lost_packet_never_improves_an_estimate(limit, data):
    fates, place = data.draw(fates_and_one_more(30))
    way = data.draw(st.sampled_from(["up", "down"]))
    more = [*fates[:place], way, *fates[place + 1 :]]
    before, after = losses_of(fates, limit, "simple"), losses_of(more, limit, "simple")
    for name in before.keys() & after.keys():
        assert after[name].measured >= before[name].measured
        assert RANK[after[name].outcome] <= RANK[before[name].outcome]


@FEW
@given(st.data())
def test_one_more_lone_loss_never_takes_back_a_guarded_below(data):
    """A loss that joins two runs may: fewer runs are less evidence (Gilbert's chain)."""
    fates, place = data.draw(fates_and_one_more(30))
    assume("came" in fates[place - 1 : place] and fates[place + 1 : place + 2] == ["came"])
    more = [*fates[:place], "up", *fates[place + 1 :]]
    before, after = losses_of(fates, 0.005, "guarded"), losses_of(more, 0.005, "guarded")
    name = "server-loss-up"
    if name in before and before[name].outcome is BELOW:
        assert after[name].outcome is BELOW


numbers = st.floats(-1e6, 1e6)


@given(st.tuples(*[numbers] * 5), numbers, numbers, st.sampled_from(Sense))
def test_a_narrower_interval_that_holds_the_truth_is_never_wrong(ends, share, limit, sense):
    """Guarded: whatever holds the truth cannot say the opposite of it, however narrow."""
    outer_low, low, truth, high, outer_high = sorted(ends)
    measured = min(max(share, low), high)
    right = MEETS if (truth >= limit if sense is Sense.AT_LEAST else truth <= limit) else BELOW
    for bounds in ((outer_low, outer_high), (low, high)):
        reading = Reading(measured=measured, low=bounds[0], high=bounds[1])
        assert decide(reading, limit, sense, "guarded")[0] in {right, OPEN}


@given(st.tuples(numbers, numbers, numbers), st.tuples(numbers, numbers), st.sampled_from(Sense))
def test_a_laxer_limit_never_worsens_an_outcome(values, limits, sense):
    low, measured, high = sorted(values)
    reading = Reading(measured=measured, low=low, high=high)
    strict, lax = sorted(limits, reverse=sense is Sense.AT_LEAST)
    for rule in RULES:
        before, after = (decide(reading, limit, sense, rule)[0] for limit in (strict, lax))
        assert RANK[after] >= RANK[before]


@pytest.mark.parametrize("rule", RULES)
@FEW
@given(st.lists(st.integers(60_000_000, 140_000_000), min_size=2, max_size=2).map(sorted))
def test_more_goodput_never_worsens_the_outcome(rule, rates):
    outcomes = [
        criterion(judge(visit(down(rate)), purpose=RULES[rule]), "throughput-down").outcome
        for rate in rates
    ]
    assert RANK[outcomes[0]] <= RANK[outcomes[1]]


@pytest.mark.parametrize("rule", RULES)
@FEW
@given(st.lists(st.integers(60_000_000, 140_000_000), min_size=2, max_size=2).map(sorted))
def test_a_faster_tier_is_never_met_sooner(rule, tiers):
    outcomes = [
        criterion(
            judge(visit(), sold=tier(down_bps=rate, layer=Layer.PAYLOAD), purpose=RULES[rule]),
            "throughput-down",
        ).outcome
        for rate in tiers
    ]
    assert RANK[outcomes[0]] >= RANK[outcomes[1]]


@FEW
@given(st.integers(60_000_000, 140_000_000), st.integers(0, 12), st.sampled_from(sorted(RULES)))
def test_the_sign_of_the_margin_agrees_with_every_outcome(rate, lost, rule):
    found = judge(visit(down(rate), server(up=lost)), purpose=RULES[rule])
    for one in found.assessment.criteria:
        if one.margin is None:
            continue
        if one.outcome is MEETS:
            assert one.margin >= 0, one
        if one.outcome is BELOW:
            assert one.margin < 0, one


@FEW
@given(st.integers(60_000_000, 140_000_000), st.integers(0, 30), st.floats(2, 40))
def test_the_guarded_rule_only_takes_back(rate, lost, delay_ms):
    measured, product = visit(down(rate), server(up=lost)), tier(delay_ms=delay_ms)
    simple, guarded = (judge(measured, sold=product, purpose=p).assessment for p in RULES.values())
    for one, other in zip(simple.criteria, guarded.criteria, strict=True):
        assert other.outcome in {one.outcome, OPEN}, one.name
    if guarded.verdict is not OPEN:
        assert guarded.verdict is simple.verdict or simple.verdict is BELOW


NEEDED = ("lease-local", "dns-resolver", "delay-server", "path-server", "throughput-down",
          "throughput-up")  # fmt: skip


def spoiled(measurement, how):
    if how == "gone":
        return None
    if how == "failed":
        return failed(
            measurement.kind, measurement.role, id=measurement.id, direction=measurement.direction
        )
    if how == "empty":
        return replace(cut_short(measurement), observed=None, state=State.SKIPPED)
    return cut_short(measurement)


@pytest.mark.parametrize("rule", RULES)
@pytest.mark.parametrize("how", ["gone", "failed", "empty"])
@pytest.mark.parametrize("name", NEEDED)
def test_missing_data_never_meets(name, how, rule):
    parts = [spoiled(m, how) if m.id == name else m for m in visit()]
    found = judge([m for m in parts if m is not None], purpose=RULES[rule])
    assert found.assessment.verdict is not MEETS


SAMPLED = ("dns-resolver", "delay-server", "throughput-down", "throughput-up")


@pytest.mark.parametrize("rule", RULES)
@pytest.mark.parametrize("name", SAMPLED)
def test_what_was_cut_short_never_meets(name, rule):
    """A sample, that is: an address held and a walk that arrived are there however it went on."""
    parts = [spoiled(m, "partial") if m.id == name else m for m in visit()]
    assert judge(parts, purpose=RULES[rule]).assessment.verdict is not MEETS


def test_a_promised_delay_of_a_series_cut_short_is_not_proven():
    found = judge(visit(cut_short(server())), sold=tier(delay_ms=30.0))
    judged = criterion(found, "server-delay-median")
    assert (judged.outcome, judged.reason.code) == (OPEN, "cut-short")
    late = criterion(judge(visit(cut_short(server())), sold=tier(delay_ms=2.0)), judged.name)
    assert late.outcome is BELOW


@pytest.mark.parametrize("rule", RULES)
def test_no_page_at_all_never_meets(rule):
    without = visit(without=("http-one", "http-two"))
    assert judge(without, purpose=RULES[rule]).assessment.verdict is not MEETS


@FEW
@given(st.sets(st.sampled_from(NEEDED), min_size=1))
def test_no_set_of_missing_measurements_meets(names):
    assert judge(visit(without=tuple(names))).assessment.verdict is not MEETS


UNFIT = (
    {"medium": Medium.WIRELESS},
    {"duplex": "half"},
    {"tunnel": "tun0"},
    {"tested_line": False, "egress": "wlan0"},
    {"on_battery": True},
    {"power_saver": "powersave"},
    {"other_traffic_bps": 5e7},
    {"cpu_ratio": 1.0},
    {"clock_offset_ms": 9e5},
    {"memory_free_ratio": 0.001},
    {"unverified_system": "Darwin"},
    {"virtual_machine": True},
)


@FEW
@given(
    st.sampled_from(UNFIT),
    st.sampled_from([40e6, 80e6, 104e6]),
    st.sampled_from([0, 3, 200]),
    st.sampled_from(sorted(RULES)),
)
def test_a_fact_of_fitness_only_takes_back(condition, rate, lost, rule):
    """What is not proven stays so, what is below becomes not proven at most."""
    measured = visit(down(rate), server(up=lost))
    fit = judge(measured, purpose=RULES[rule]).assessment
    unfit = judge(measured, conditions=(calm(**condition),), purpose=RULES[rule]).assessment
    assert unfit.verdict in {fit.verdict, OPEN}
    for one, other in zip(fit.criteria, unfit.criteria, strict=True):
        assert other.outcome in {one.outcome, OPEN}, (condition, one.name)
