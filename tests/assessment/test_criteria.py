"""Each promise against measurements made for it; limits are those of the shipped settings."""

import math
from dataclasses import replace
from statistics import median

import pytest
from visits import (
    GATEWAY,
    criterion,
    cut_short,
    dead_page,
    delay,
    dns,
    down,
    failed,
    first_hop,
    gateway,
    judge,
    lease,
    link,
    page,
    path,
    server,
    settings,
    tier,
    up,
    visit,
    with_limits,
)

from agent.assessment.model import Verdict
from agent.measurements import Direction, Kind, Medium, Role, State
from agent.settings.choose import pick_plan
from agent.settings.model import DnsPlan, Handover, Layer, Line, PluggedInto, Purpose

MEETS, BELOW, OPEN = Verdict.MEETS, Verdict.BELOW, Verdict.NOT_PROVEN
GUARDED = {"purpose": Purpose.COMPLAINT}


def outcome(conclusion, name):
    found = criterion(conclusion, name)
    return found.outcome, found.reason.code if found.reason else None


def test_a_healthy_visit_meets_by_both_rules():
    for purpose in Purpose:
        found = judge(visit(), purpose=purpose).assessment
        assert found.verdict is MEETS, found.deciding
        assert found.fitness == ()


@pytest.mark.parametrize(
    ("lost_up", "lost_down", "simple", "guarded"),
    [(0, 0, MEETS, MEETS), (2, 0, MEETS, OPEN), (0, 4, MEETS, OPEN), (5, 5, BELOW, OPEN)],
)
def test_loss_to_the_server(lost_up, lost_down, simple, guarded):
    """0.5 % of 800: the estimate decides at installation, the interval in a complaint."""
    measurements = visit(server(up=lost_up, down=lost_down))
    assert judge(measurements).assessment.verdict is simple
    assert judge(measurements, **GUARDED).assessment.verdict is guarded


def test_loss_is_judged_each_way():
    found = judge(visit(server(up=20)))
    assert outcome(found, "server-loss-up") == (BELOW, None)
    assert outcome(found, "server-loss-down") == (MEETS, None)
    assert found.assessment.deciding == ("server-loss-up",)
    assert criterion(found, "server-loss-up").measured == pytest.approx(20 / 800)
    assert criterion(found, "server-loss-up").margin == pytest.approx(0.005 - 20 / 800)


def test_loss_both_ways_together_where_directions_are_unknown():
    found = judge(visit(server(up=20, told=False)))
    assert outcome(found, "server-loss") == (BELOW, None)
    names = [c.name for c in found.assessment.criteria]
    assert "server-loss-up" not in names


@pytest.mark.parametrize(("sent", "expected"), [(764, OPEN), (765, MEETS)])
def test_too_few_probes_prove_no_absence_of_loss(sent, expected):
    """0 of 765 is the least that proves 0.5 % (Wilson)."""
    found = judge(visit(server(sent=sent)))
    assert criterion(found, "server-loss-up").outcome is expected


def test_the_tiers_own_promises_replace_the_limits():
    strict = tier(loss_ratio=0.02, delay_ms=5.0)
    found = judge(visit(server(up=10)), sold=strict)
    assert outcome(found, "server-loss-up") == (MEETS, None)
    assert criterion(found, "server-loss-up").limit_source == "tier"
    assert outcome(found, "server-delay-median") == (BELOW, None)
    assert found.assessment.deciding == ("server-delay-median",)


def test_silence_of_the_server_is_not_loss():
    found = judge(visit(server(up=800)))
    assert outcome(found, "server-loss") == (OPEN, "udp-silent")
    quiet = visit(server(up=800), path(GATEWAY, None), without=("throughput-down", "throughput-up"))
    assert outcome(judge(quiet), "server-loss") == (OPEN, "silent")


def test_a_gateway_that_does_not_answer_but_passes_is_no_fault():
    found = judge(visit(gateway(up=200)))
    assert outcome(found, "gateway-loss") == (OPEN, "silent-but-passing")
    assert not criterion(found, "gateway-loss").needed
    assert found.assessment.verdict is MEETS


@pytest.mark.parametrize(
    ("near", "far", "expected", "needed"),
    [
        ({"down": 6}, {}, OPEN, False),
        ({"down": 6}, {"up": 24}, BELOW, True),
        ({"down": 6}, None, OPEN, True),
        ({"down": 6}, {"sent": 765, "up": 1}, OPEN, True),
        ({}, {"up": 24}, MEETS, True),
        ({"sent": 50}, {}, OPEN, True),
    ],
)
def test_loss_at_the_gateway_needs_loss_beyond_it(near, far, expected, needed):
    far_end = failed(Kind.DELAY, Role.SERVER) if far is None else server(**far)
    found = judge(visit(gateway(**near), far_end), rules=with_limits(gateway_loss={"needed": True}))
    gate = criterion(found, "gateway-loss")
    assert (gate.outcome, gate.needed) == (expected, needed)


def test_a_gateway_that_limits_its_answers_loses_nothing():
    """By UDP: three of five errors came, for hosts limit them (RFC 1812 §4.3.2.8)."""
    limited = gateway(sent=5, down=2, method="udp-unreachable")
    limited = replace(limited, observed=replace(limited.observed, answers_limited=True))
    found = judge(visit(limited))
    assert outcome(found, "gateway-loss") == (OPEN, "answers-limited")
    assert found.assessment.verdict is MEETS


def series_median(measurement):
    """Return the median round trip of a series, lost probes later than any."""
    trips = measurement.observed.rtt_ms
    return pytest.approx(median(math.inf if ms is None else ms for ms in trips))


@pytest.mark.parametrize(
    ("stated", "address", "far"),
    [
        (PluggedInto.MODEM, GATEWAY, True),
        (PluggedInto.ONT, GATEWAY, True),
        (PluggedInto.MODEM, "100.64.0.1", True),
        (PluggedInto.MODEM, "192.168.100.1", False),
        (PluggedInto.ROUTER, GATEWAY, False),
        (PluggedInto.UNKNOWN, GATEWAY, False),
    ],
)
def test_a_gateway_past_the_modem_is_judged_as_the_first_hop(stated, address, far):
    """Private addresses are the modem's own (RFC 1918), shared ones the operator's (RFC 6598)."""
    series = delay(Role.GATEWAY, address, rtt_ms=9.0, down=2)
    found = judge(visit(series, without=("delay-first-hop",)), plugged_into=stated)
    judged = {c.name: c for c in found.assessment.criteria}
    gates = {"gateway-loss", "gateway-delay-median", "gateway-delay-p95"}
    assert bool(gates & set(judged)) is not far
    hop = judged["first-hop-delay-median"]
    assert hop.measured == (series_median(series) if far else None)
    assert found.assessment.verdict is MEETS


def test_a_session_that_the_laptop_holds_has_a_far_gateway_wherever_it_is_plugged_in():
    series = gateway(rtt_ms=9.0)
    dialled = visit(link(medium=Medium.PPP), series, without=("delay-first-hop",))
    found = criterion(judge(dialled), "first-hop-delay-median")
    assert found.measured == series_median(series)


def test_a_far_gateway_that_is_silent_leaves_the_first_hop_to_the_next():
    further = first_hop(rtt_ms=6.0)
    found = judge(visit(gateway(up=200), further), plugged_into=PluggedInto.MODEM)
    assert criterion(found, "first-hop-delay-median").measured == series_median(further)


def test_a_modem_in_the_settings_is_no_far_gateway():
    rules = settings().model_copy(update={"line": Line(modem_address=GATEWAY)})
    found = judge(visit(), rules=rules, plugged_into=PluggedInto.MODEM)
    assert outcome(found, "gateway-loss")[0] is MEETS


def test_of_two_means_the_one_that_was_answered_is_judged():
    by_tcp = gateway(method="tcp-connect", id="by-tcp")
    found = judge([*visit(gateway(up=200)), by_tcp])
    assert criterion(found, "gateway-loss").measurements == ("by-tcp",)


def test_a_median_that_loss_makes_infinite_is_missed():
    found = judge(visit(first_hop(up=150)))
    assert outcome(found, "first-hop-delay-median") == (BELOW, "not-reached")


@pytest.mark.parametrize(
    ("changes", "expected", "reason"),
    [
        ({}, MEETS, None),
        ({"origin": "unknown", "lease_s": None}, MEETS, None),
        ({"origin": "none", "address": None}, BELOW, None),
        ({"origin": "self-assigned", "address": "169.254.3.4"}, BELOW, None),
    ],
)
def test_lease(changes, expected, reason):
    assert outcome(judge(visit(lease(**changes))), "lease") == (expected, reason)


def test_no_offer_on_a_pppoe_handover_is_normal():
    bare = lease(origin="none", address=None)
    found = judge(visit(bare), handover=Handover.PPPOE)
    assert outcome(found, "lease") == (OPEN, "pppoe-no-session")
    session = lease(origin="ppp", address="198.51.100.77")
    assert judge(visit(session), handover=Handover.PPPOE).assessment.verdict is MEETS


def test_one_working_resolver_is_enough():
    dead = dns(answered=0, address="203.0.113.54", id="dns-2")
    found = judge(visit(dead))
    assert found.assessment.verdict is MEETS
    both = [c for c in found.assessment.criteria if c.name == "dns-unanswered"]
    assert [(c.needed, c.outcome) for c in both] == [(True, MEETS), (False, BELOW)]


def test_dead_names_are_below_only_where_something_else_answers():
    dead = dns(answered=0)
    pages = [dead_page("one", "name-not-resolved"), dead_page("two", "name-not-resolved")]
    found = judge(visit(dead, *pages))
    assert outcome(found, "dns-unanswered") == (BELOW, None)
    assert outcome(found, "web-reached") == (OPEN, "names-silent")
    assert found.assessment.deciding == ("dns-unanswered",)
    cut = judge(visit(dead, *pages, *nothing_beyond()))
    assert outcome(cut, "dns-unanswered") == (OPEN, "nothing-beyond")
    assert cut.assessment.verdict is OPEN


def nothing_beyond():
    return (
        server(up=800),
        first_hop(up=200),
        path(GATEWAY, None, None),
        failed(Kind.THROUGHPUT, Role.SERVER, id="throughput-down", direction=Direction.DOWN),
        failed(Kind.THROUGHPUT, Role.SERVER, id="throughput-up", direction=Direction.UP),
    )


def test_slow_names_are_shown_and_decide_nothing_by_default():
    found = judge(visit(dns(rtt_ms=90.0)))
    assert outcome(found, "dns-median") == (BELOW, None)
    assert found.assessment.verdict is MEETS


def test_a_95th_percentile_is_judged_only_where_the_plan_can_give_one():
    standard = pick_plan(settings(), "standard")
    few = standard.model_copy(update={"dns": DnsPlan(queries=58)})
    names = [c.name for c in judge(visit(), plan=few).assessment.criteria]
    assert "dns-p95" not in names
    asking = standard.model_copy(update={"dns": DnsPlan(queries=100)})
    long = judge(visit(dns(answered=100, sent=100)), plan=asking)
    assert outcome(long, "dns-p95") == (MEETS, None)


@pytest.mark.parametrize(
    ("pages", "expected", "reason"),
    [
        ([page("one"), dead_page("two")], MEETS, None),
        ([dead_page("one"), dead_page("two")], BELOW, None),
        ([dead_page("one")], OPEN, "too-few-targets"),
    ],
)
def test_one_dead_site_fails_no_line(pages, expected, reason):
    rest = visit(without=("http-one", "http-two"))
    assert outcome(judge((*rest, *pages)), "web-reached") == (expected, reason)


def test_a_filtered_walk_to_a_reached_server_is_no_fault():
    found = judge(visit(path(GATEWAY, None, None)))
    assert outcome(found, "path-reached") == (OPEN, "path-filtered")
    assert found.assessment.verdict is MEETS


@pytest.mark.parametrize("name", ["throughput-down", "server-loss", "dns-unanswered", "lease"])
def test_missing_data_never_meets(name):
    kind = {"throughput-down": "throughput", "server-loss": "delay", "dns-unanswered": "dns"}
    gone = [m.id for m in visit() if m.kind.value == kind.get(name, name)]
    found = judge(visit(without=tuple(gone)))
    assert outcome(found, name) == (OPEN, "not-measured")
    assert found.assessment.verdict is OPEN


def test_a_plan_without_filling_proves_no_rate():
    gone = ("throughput-down", "throughput-up")
    found = judge(visit(without=gone), plan="no-fill")
    reason = criterion(found, "throughput-down").reason
    assert reason.values == {"kind": "throughput", "cause": "not-in-plan"}
    assert found.assessment.verdict is OPEN


def test_no_consent_is_told_as_the_cause():
    refused = failed(
        Kind.THROUGHPUT,
        Role.SERVER,
        "no-consent",
        state=State.SKIPPED,
        id="throughput-up",
        direction=Direction.UP,
    )
    reason = criterion(judge(visit(refused)), "throughput-up").reason
    assert (reason.code, reason.values["cause"]) == ("not-measured", "no-consent")


def test_without_a_tier_everything_is_shown_and_nothing_proven():
    found = judge(visit(), sold=None)
    assert (found.assessment.verdict, found.assessment.deciding) == (OPEN, ("no-tier",))
    rate = criterion(found, "throughput-down")
    assert (rate.measured, rate.limit) == (pytest.approx(104e6), None)


@pytest.mark.parametrize(
    ("layer", "octets"), [("ip", 1500), ("frame", 1514), ("docsis-frame", 1518), ("wire", 1538)]
)
def test_the_accepted_rate_is_converted_to_the_payload(layer, octets):
    """0.9 of 100 Mbit/s at the tier's layer; payload 1448 of 1500 octets with timestamps."""
    sold = tier(layer=Layer(layer))
    found = criterion(judge(visit(), sold=sold), "throughput-down")
    assert found.limit == pytest.approx(90e6 * 1448 / octets)
    assert found.layer == "payload"
    assert found.converted == f"{layer}>payload 1448/{octets}"


@pytest.mark.parametrize(
    ("stated", "expected", "reason"),
    [
        (True, BELOW, "single-measurement"),
        (None, OPEN, "others-on-unknown"),
        (False, OPEN, "others-on"),
    ],
)
def test_a_slow_line_is_below_only_with_nothing_else_on(stated, expected, reason):
    found = judge(visit(down(50e6), up(5e6)), nothing_else_on=stated)
    assert outcome(found, "throughput-down") == (expected, reason)
    assert found.assessment.verdict is expected


def test_a_second_transfer_confirms_or_clears():
    again = down(52e6, id="throughput-down-2")
    assert outcome(judge(visit(down(50e6), again)), "throughput-down") == (BELOW, None)
    better = down(104e6, id="throughput-down-2")
    cleared = outcome(judge(visit(down(50e6), better)), "throughput-down")
    assert cleared == (MEETS, "measurements-disagree")


def test_a_pass_stays_whatever_else_was_on():
    for stated in (None, False):
        assert judge(visit(), nothing_else_on=stated).assessment.verdict is MEETS


def test_a_transfer_cut_short_proves_nothing():
    for rate in (50e6, 104e6):
        partial = cut_short(down(rate))
        assert outcome(judge(visit(partial)), "throughput-down") == (OPEN, "cut-short")


@pytest.mark.parametrize(
    ("port_bps", "rate_bps", "expected", "source"),
    [
        (1_000_000_000, 935e6, MEETS, "port ceiling"),
        (1_000_000_000, 800e6, BELOW, "port ceiling"),
        (100_000_000, 94e6, OPEN, "settings accept"),
        (2_500_000_000, 1400e6, MEETS, "settings accept"),
    ],
)
def test_a_tier_above_the_port(port_bps, rate_bps, expected, source):
    """A gigabit port carries 941 Mbit/s of payload with timestamps: 0.97 of that is met."""
    sold = tier(down_bps=1_500_000_000)
    found = judge(visit(link(speed_bps=port_bps), down(rate_bps)), sold=sold)
    rate = criterion(found, "throughput-down")
    assert (rate.outcome, rate.limit_source) == (expected, source)
    assert rate.at_least is (source == "port ceiling" and expected is MEETS)


def test_ping_loss_to_an_extra_role_is_not_judged():
    outside = delay(Role.OUTSIDE, "203.0.113.80", up=100)
    assert judge(visit(outside)).assessment.verdict is MEETS


def test_a_limit_taken_away_is_not_judged():
    rules = with_limits(server_loss=None, web_reached=None, gateway_loss=None, dns_median=None)
    names = {c.name for c in judge(visit(), rules=rules).assessment.criteria}
    assert not names & {"server-loss-up", "web-reached", "gateway-loss", "dns-median"}
    assert "lease" in names


@pytest.mark.parametrize(("lost", "expected"), [(0, MEETS), (12, OPEN)])
def test_a_gateway_limit_as_a_ratio(lost, expected):
    """0 of 200 proves 2 % (Wilson: 1.9 %), and 6 % without loss beyond proves nothing."""
    rules = with_limits(gateway_loss={"unit": "ratio", "value": 0.02})
    assert outcome(judge(visit(gateway(down=lost)), rules=rules), "gateway-loss")[0] is expected


@pytest.mark.parametrize(("answered", "expected"), [(19, MEETS), (17, BELOW)])
def test_unanswered_names_as_a_ratio(answered, expected):
    rules = with_limits(dns_unanswered={"unit": "ratio", "value": 0.05})
    found = criterion(judge(visit(dns(answered=answered)), rules=rules), "dns-unanswered")
    assert found.outcome is expected
    assert found.low < found.measured < found.high


def test_names_cut_short_prove_nothing():
    assert outcome(judge(visit(cut_short(dns(sent=5, answered=5)))), "dns-unanswered") == (
        OPEN,
        "cut-short",
    )


def test_names_that_mostly_miss_have_no_median():
    assert outcome(judge(visit(dns(answered=8))), "dns-median") == (BELOW, "not-reached")
    assert outcome(judge(visit(dns(answered=0))), "dns-median") == (OPEN, "silent")


def test_pages_as_a_ratio_allow_one_dead_site():
    rules = with_limits(web_reached={"unit": "ratio", "value": 1.0})
    found = judge(visit(dead_page("two")), rules=rules)
    assert outcome(found, "web-reached") == (MEETS, None)
    two_dead = (dead_page("one"), dead_page("two"), page("three"))
    assert outcome(judge(visit(*two_dead), rules=rules), "web-reached") == (BELOW, None)


def test_no_pages_asked_for_is_no_criterion():
    rules = settings().model_copy(
        update={"targets": settings().targets.model_copy(update={"web": ()})}
    )
    found = judge(visit(without=("http-one", "http-two")), rules=rules)
    assert "web-reached" not in {c.name for c in found.assessment.criteria}
    assert found.assessment.verdict is MEETS


def test_a_page_that_could_not_be_asked_for_counts_as_unreached():
    gone = [failed(Kind.HTTP, Role.OUTSIDE, "name-not-resolved", id=f"http-{n}") for n in "ab"]
    rest = visit(without=("http-one", "http-two"))
    assert outcome(judge((*rest, *gone)), "web-reached") == (BELOW, None)
    unable = [failed(Kind.HTTP, Role.OUTSIDE, "right-missing", id="http-a")]
    assert outcome(judge((*rest, *unable)), "web-reached") == (OPEN, "not-measured")


def test_ipv6_headers_and_pppoe_wrapping_enter_the_conversion():
    """RFC 8200 40 octets for 20; RFC 2516 8 octets more in each frame."""
    bare = down().observed
    six = replace(down(), family=6, observed=replace(bare, header_bytes=None, mtu_bytes=None))
    assert criterion(judge(visit(six)), "throughput-down").converted == (
        "ip>payload 1428/1500 assumed"
    )
    tagged = replace(down(), observed=replace(bare, mtu_bytes=1492))
    found = judge(
        visit(tagged, lease(origin="ppp")),
        sold=tier(layer=Layer.WIRE),
        handover=Handover.PPPOE,
    )
    assert criterion(found, "throughput-down").converted == "wire>payload 1440/1538"


def test_a_step_that_failed_as_one_tells_every_criterion_why():
    gone = ("throughput-down", "throughput-up", "delay-gateway")
    whole = failed(Kind.THROUGHPUT, Role.SERVER, "no-address")
    found = judge(visit(whole, failed(Kind.DELAY, Role.SERVER, "no-address"), without=gone))
    for name in ("throughput-down", "throughput-up", "gateway-loss", "server-loss"):
        reason = criterion(found, name).reason
        assert (reason.code, reason.values["cause"]) == ("not-measured", "no-address")
