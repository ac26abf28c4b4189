"""Faults as their measurements, each with its own segment and next step.

Tone and content of the next steps: common practice of the trade, no source.
"""

import pytest
from visits import (
    EDGE,
    GATEWAY,
    SERVER,
    calm,
    dead_page,
    delay,
    dns,
    down,
    failed,
    filled,
    first_hop,
    gateway,
    judge,
    lease,
    link,
    modem,
    page,
    path,
    server,
    settings,
    tier,
    up,
    visit,
)

from agent.diagnosis.model import Segment
from agent.diagnosis.table import RULES
from agent.measurements import Direction, Kind, LeaseProbe, Medium, Role
from agent.settings.model import Handover, PluggedInto
from agent.sheet.numbers import DASH
from agent.sheet.wording import finding_sentence

LIKELY = 0.75
NO_FILL = tuple(
    failed(Kind.THROUGHPUT, Role.SERVER, id=f"throughput-{d.value}", direction=d)
    for d in (Direction.DOWN, Direction.UP)
)
NO_PAGES = (dead_page("one", "name-not-resolved"), dead_page("two", "name-not-resolved"))
CUT = (
    server(up=800),
    dns(answered=0),
    path(GATEWAY, None, None),
    *NO_FILL,
    *NO_PAGES,
)
NO_ADDRESS = tuple(
    failed(kind, role, "no-address", id=name)
    for kind, role, name in (
        (Kind.DNS, Role.RESOLVER, "dns-resolver"),
        (Kind.DELAY, Role.GATEWAY, "delay-gateway"),
        (Kind.DELAY, Role.MODEM, "delay-modem"),
        (Kind.DELAY, Role.FIRST_HOP, "delay-first-hop"),
        (Kind.DELAY, Role.SERVER, "delay-server"),
        (Kind.PATH, Role.SERVER, "path-server"),
        (Kind.HTTP, Role.OUTSIDE, "http-one"),
        (Kind.HTTP, Role.OUTSIDE, "http-two"),
        (Kind.THROUGHPUT, Role.SERVER, "throughput-down"),
        (Kind.THROUGHPUT, Role.SERVER, "throughput-up"),
    )
)


def first(conclusion):
    finding = conclusion.diagnosis.findings[0]
    assert conclusion.diagnosis.segment is finding.segment
    return finding.code, finding.segment.value, finding.next_step


def test_nothing_wrong():
    found = judge(visit()).diagnosis
    assert (found.segment, found.findings) == (Segment.NONE, ())


@pytest.mark.parametrize(
    ("changes", "expected"),
    [
        ((down(50e6), up(5e6)), ("slow-line", "access", "check-profile-then-levels")),
        ((server(up=16, down=16), first_hop(down=8)), ("loss-past-modem", "access", "read-levels")),
        ((*CUT, modem(up=200)), ("modem-silent", "modem", "read-levels-or-swap-modem")),
        (CUT, ("nothing-past-modem", "access", "read-levels-at-modem")),
        (
            (lease(origin="self-assigned", address="169.254.3.4", gateway=None), *NO_ADDRESS),
            ("self-assigned", "home", "restart-router"),
        ),
        ((dns(answered=0), *NO_PAGES), ("dns-silent", "operator", "report-resolver")),
        (
            (*CUT, gateway(up=200), modem(up=200), path(None, None)),
            ("gateway-silent", "home", "restart-router"),
        ),
        (
            (server(up=16), gateway(down=4), first_hop(down=4)),
            ("loss-at-gateway", "home", "change-cord-or-port"),
        ),
        ((server(down=32),), ("loss-in-operator", "operator", "refer-to-operator")),
        (
            (dead_page("one"), dead_page("two")),
            ("web-unreached", "beyond", "refer-to-operator"),
        ),
        ((dead_page("two"),), ("site-unreached", "beyond", "none-on-this-line")),
        (
            (server(up=800), path(GATEWAY, EDGE, None), *NO_FILL),
            ("server-silent", "operator", "report-server"),
        ),
        (
            (dns(answered=0, address="203.0.113.54", id="dns-2"),),
            ("dns-partly-silent", "operator", "report-resolver"),
        ),
        (
            (dns(answered=0, address=GATEWAY), *NO_PAGES),
            ("dns-silent", "home", "restart-router"),
        ),
        ((link(duplex="half"),), ("half-duplex", "home", "check-auto-negotiation")),
        (
            (
                page("one", redirected_to="http://activate.ternbay.example/"),
                page("two", redirected_to="http://activate.ternbay.example/"),
            ),
            ("walled-garden", "operator", "finish-activation"),
        ),
    ],
)
def test_one_fault_one_place_one_next_step(changes, expected):
    assert first(judge(visit(*changes, without=_unmeasured(changes)))) == expected


def _unmeasured(changes):
    """A cut line has no first hop to probe: the walk never showed one."""
    cut = any(
        c.kind is Kind.PATH and EDGE not in c.observed.answered_by
        for c in changes
        if c.observed is not None
    )
    return ("delay-first-hop",) if cut else ()


def test_the_link_is_down():
    dark = visit(link(up=False, speed_bps=None), lease(origin="none", address=None), *NO_ADDRESS)
    assert first(judge(dark)) == ("port-down", "home", "check-cable")
    nothing = tuple(
        failed(m.kind, m.role, "interface-down", id=m.id, direction=m.direction) for m in visit()
    )
    assert first(judge(nothing)) == ("port-down", "home", "check-cable")


def test_the_interface_is_not_there():
    nothing = tuple(
        failed(m.kind, m.role, "no-interface", id=m.id, direction=m.direction) for m in visit()
    )
    found = judge(nothing)
    assert first(found) == ("no-interface", "laptop", "check-adapter")
    assert len(found.diagnosis.findings) == 1


@pytest.mark.parametrize("socket", [PluggedInto.MODEM, PluggedInto.ONT])
def test_no_lease_straight_from_the_modem(socket):
    bare = visit(lease(origin="none", address=None, gateway=None), *NO_ADDRESS)
    found = judge(bare, plugged_into=socket)
    assert first(found) == ("no-lease", "modem", "restart-modem-alone")
    behind = judge(bare, plugged_into=PluggedInto.ROUTER).diagnosis.findings[0]
    assert found.diagnosis.findings[0].confidence < LIKELY <= behind.confidence


def test_no_offer_on_a_pppoe_handover_is_not_called_a_fault():
    """RFC 2516: a PPPoE line answers discovery of its own, and no DHCP."""
    probe = LeaseProbe(sent=2, listened_s=6.0)
    bare = visit(lease(origin="none", address=None, gateway=None, probe=probe), *NO_ADDRESS)
    found = judge(bare, handover=Handover.PPPOE)
    assert first(found) == ("pppoe-no-session", "undetermined", "start-pppoe-session")
    assert found.diagnosis.findings[0].confidence < LIKELY
    session = visit(lease(origin="ppp", address="198.51.100.77", probe=probe))
    assert judge(session, handover=Handover.PPPOE).diagnosis.findings == ()


def test_a_cut_without_a_modem_address_is_left_open():
    found = judge(visit(*CUT, without=("delay-modem", "delay-first-hop")))
    assert first(found) == ("nothing-past-gateway", "undetermined", "read-levels-or-swap-modem")
    assert found.diagnosis.findings[0].confidence < LIKELY


def test_a_gateway_that_says_unreachable_is_not_the_world_beyond():
    refusing = path(GATEWAY, GATEWAY, GATEWAY)
    found = judge(visit(*CUT, refusing, without=("delay-first-hop",)))
    assert first(found)[0] == "nothing-past-modem"


def test_in_bridge_mode_the_gateway_is_the_operators():
    """Plugged into the modem, a silent public gateway beside an answering modem: the line."""
    public = delay(Role.GATEWAY, "198.51.100.254", up=200)
    measurements = visit(
        lease(gateway="198.51.100.254"),
        public,
        *CUT,
        path(None, None),
        without=("delay-first-hop",),
    )
    found = judge(measurements, plugged_into=PluggedInto.MODEM)
    assert first(found) == ("nothing-past-modem", "access", "read-levels-at-modem")


@pytest.mark.parametrize("modems", [(modem(up=200),), ()])
def test_where_nothing_answers_at_the_modem_its_own_silence_says_nothing(modems):
    """What is for the modem goes to a gateway that nobody can find any more (RFC 826)."""
    nothing = visit(
        lease(gateway="198.51.100.254"),
        delay(Role.GATEWAY, "198.51.100.254", up=200),
        *CUT,
        path(None, None),
        without=("delay-first-hop", "delay-modem"),
    )
    found = judge((*nothing, *modems), plugged_into=PluggedInto.MODEM)
    told = [(f.code, f.segment.value, f.next_step) for f in found.diagnosis.findings]
    assert told == [("silent-at-modem", "undetermined", "read-levels-or-swap-modem")]


def test_a_modem_that_is_the_gateway_itself_answers_for_the_modem():
    """As one does that gives an address of its own while its line is dark."""
    routed = visit(
        lease(address="192.168.0.20", gateway="192.168.0.1"),
        delay(Role.GATEWAY, "192.168.0.1", rtt_ms=0.4),
        *CUT,
        path("192.168.0.1", None),
        without=("delay-first-hop", "delay-modem"),
    )
    found = judge(routed, plugged_into=PluggedInto.MODEM)
    assert first(found) == ("nothing-past-modem", "access", "read-levels-at-modem")


def test_delay_that_begins_before_a_far_gateway_is_the_lines():
    slow = visit(server(rtt_ms=60.0), gateway(rtt_ms=55.0), without=("delay-first-hop",))
    found = judge(slow, sold=tier(delay_ms=20.0), plugged_into=PluggedInto.MODEM)
    assert first(found)[:2] == ("delay-high", "access")


def test_loss_seen_at_the_gateway_in_bridge_mode_is_the_lines():
    public = delay(Role.GATEWAY, "198.51.100.254", down=8)
    lossy = visit(
        lease(gateway="198.51.100.254"),
        public,
        server(up=16, down=16),
        without=("delay-first-hop",),
    )
    found = judge(lossy, plugged_into=PluggedInto.MODEM)
    assert first(found) == ("loss-past-modem", "access", "read-levels")


def test_loss_without_a_first_hop_is_only_possible():
    found = judge(visit(server(up=16, down=16), without=("delay-first-hop",)))
    assert first(found) == ("loss-past-gateway", "access", "read-levels")
    assert found.diagnosis.findings[0].confidence < LIKELY
    alone = judge(visit(server(up=16), without=("delay-first-hop", "delay-gateway")))
    assert alone.diagnosis.segment is Segment.UNDETERMINED


def test_a_first_hop_that_is_the_server_places_no_loss():
    itself = delay(Role.FIRST_HOP, SERVER, down=8)
    assert first(judge(visit(itself, server(up=16, down=16))))[0] == "loss-past-gateway"


def test_one_lost_ping_at_the_gateway_accuses_nobody():
    assert judge(visit(gateway(down=1))).diagnosis.findings == ()
    lossy = judge(visit(gateway(down=1), server(up=16, down=16), first_hop(down=8)))
    assert first(lossy)[0] == "loss-past-modem"


def test_silent_neighbours_of_a_good_line_accuse_nobody():
    found = judge(visit(gateway(up=200), modem(up=200), first_hop(up=200)))
    assert found.diagnosis.findings == ()


def test_a_port_too_slow_for_the_tier_is_not_a_slow_line():
    slow_port = visit(link(speed_bps=100_000_000), down(94e6))
    found = judge(slow_port, sold=tier(down_bps=500_000_000))
    assert first(found) == ("port-below-tier", "home", "change-cord-or-port")
    assert [f.code for f in found.diagnosis.findings] == ["port-below-tier"]


def test_a_gigabit_port_on_a_faster_tier_is_no_fault():
    found = judge(visit(down(938e6)), sold=tier(down_bps=2_000_000_000))
    assert found.diagnosis.findings == ()


@pytest.mark.parametrize(
    ("condition", "stated", "fact", "segment", "step"),
    [
        ({}, None, "others_on", "undetermined", "stop-other-traffic"),
        ({"cpu_ratio": 0.99}, True, "processor_busy", "laptop", "free-the-laptop"),
        (
            {"unverified_system": "macOS"},
            True,
            "unverified_system",
            "laptop",
            "use-tried-system",
        ),
        ({"other_traffic_bps": 30e6}, True, "other_traffic", "laptop", "stop-other-programs"),
    ],
)
def test_slow_at_an_unfit_moment(condition, stated, fact, segment, step):
    found = judge(visit(down(50e6)), conditions=(calm(**condition),), nothing_else_on=stated)
    assert first(found) == ("slow-not-attributable", segment, step)
    said = found.diagnosis.findings[0]
    assert (said.values["fact"], said.values["direction"]) == (fact, "down")
    assert DASH not in finding_sentence(said.code, said.values)


def test_a_slow_laptop_on_the_air_is_told_as_that_alone():
    found = judge(visit(down(50e6), gateway(up=9)), conditions=(calm(medium=Medium.WIRELESS),))
    assert [f.code for f in found.diagnosis.findings] == ["laptop-on-wireless"]
    assert first(found)[1:] == ("home", "plug-in-cable")


@pytest.mark.parametrize(
    ("condition", "code"),
    [({"tunnel": "tun0"}, "tunnel-on"), ({"tested_line": False, "egress": "wl0"}, "another-line")],
)
def test_another_way_out_hides_what_it_would_explain(condition, code):
    found = judge(visit(down(50e6), server(up=40)), conditions=(calm(**condition),))
    assert [f.code for f in found.diagnosis.findings] == [code]


@pytest.mark.parametrize(
    ("changes", "segment"),
    [
        ((gateway(rtt_ms=30.0), first_hop(rtt_ms=31.0)), "home"),
        ((first_hop(rtt_ms=45.0),), "access"),
        ((first_hop(rtt_ms=19.0),), "operator"),
    ],
)
def test_a_promised_delay_that_is_missed(changes, segment):
    slow = visit(server(rtt_ms=40.0), *changes)
    found = judge(slow, sold=tier(delay_ms=20.0))
    assert first(found)[:2] == ("delay-high", segment)


def test_delay_of_the_line_that_nobody_promised_is_no_finding():
    slow = visit(server(rtt_ms=160.0), first_hop(rtt_ms=150.0))
    assert judge(slow).diagnosis.findings == ()


@pytest.mark.parametrize(("promised_ms", "likely"), [(20.0, True), (None, True)])
def test_a_long_way_past_the_line_is_a_detour(promised_ms, likely):
    sold = tier(delay_ms=promised_ms) if promised_ms else tier()
    (found,) = judge(visit(server(rtt_ms=90.0)), sold=sold).diagnosis.findings
    assert (found.code, found.segment.value) == ("path-detour", "operator")
    assert (found.confidence >= LIKELY) is likely


def test_loss_within_the_limit_is_only_possible():
    found = judge(visit(server(up=3), first_hop(down=2)))
    assert first(found)[0] == "loss-past-modem"
    assert found.diagnosis.findings[0].confidence < LIKELY
    missed = judge(visit(server(up=16), first_hop(down=4)))
    assert missed.diagnosis.findings[0].confidence >= LIKELY


@pytest.mark.parametrize(
    ("fault", "expected"),
    [("refused", ["server-silent"]), ("no-server", []), ("name-not-resolved", []), (None, [])],
)
def test_without_transfers_the_card_tells_of_the_server(fault, expected):
    """A refused card is the server's; none asked for, or a name without address, is not."""
    quiet = visit(without=("throughput-down", "throughput-up"))
    found = judge(quiet, plan="no-fill", card_fault=fault)
    assert [f.code for f in found.diagnosis.findings] == expected


def test_a_silent_server_beside_a_line_that_passes():
    """Without a transfer to tell more: the walk ends before the server, pages arrive."""
    quiet = visit(
        server(up=800),
        path(GATEWAY, EDGE, None),
        without=("throughput-down", "throughput-up"),
    )
    found = judge(quiet, plan="no-fill")
    assert first(found) == ("server-silent", "operator", "report-server")
    assert found.diagnosis.findings[0].values == {"cause": "silent"}
    filtered = judge(visit(server(up=800)))
    assert filtered.diagnosis.findings == ()


def test_two_faults_are_both_named_the_worse_first():
    found = judge(visit(server(up=40, down=40), first_hop(down=20), down(50e6), up(5e6)))
    assert [f.code for f in found.diagnosis.findings] == ["loss-past-modem", "slow-line"]


def test_evidence_names_measurements_of_the_visit():
    found = judge(visit(server(up=16, down=16), first_hop(down=8)))
    assert found.diagnosis.findings[0].evidence == (
        "delay-gateway",
        "delay-first-hop",
        "delay-server",
    )
    values = found.diagnosis.findings[0].values
    assert values["loss_up"] == pytest.approx(16 / 800)
    assert values["loss_down"] == pytest.approx(16 / 784)


def test_too_little_measured_to_say():
    found = judge((link(),))
    assert found.diagnosis.segment is Segment.UNDETERMINED


def test_pings_alone_never_condemn_modem_or_drop():
    """Where only pings speak, the next step asks for a level or a swap."""
    asked = {r.next_step for r in RULES if r.code in ("modem-silent", "nothing-past-modem")}
    assert asked == {"read-levels-or-swap-modem", "read-levels-at-modem"}


def test_the_table_is_whole():
    codes = [r.code for r in RULES]
    assert len(codes) == len(set(codes))
    for rule in RULES:
        assert rule.hides <= set(codes)
        assert 0 < rule.confidence < 1
    assert settings().fitness.others_on.voids


@pytest.mark.parametrize(
    "parts",
    [
        (lease(origin="none", address=None),),
        (server(up=40, down=40),),
        (dns(answered=0),),
    ],
    ids=["lease", "loss", "names"],
)
def test_a_system_never_tried_is_not_sure_of_any_fault_outside_the_laptop(parts):
    sure = judge(visit(*parts)).diagnosis.findings
    untried = judge(visit(*parts), conditions=(calm(unverified_system="macOS"),)).diagnosis
    assert max(one.confidence for one in sure) >= LIKELY
    outside = [one for one in untried.findings if one.segment is not Segment.LAPTOP]
    assert all(one.confidence < LIKELY for one in outside)


def test_a_full_line_that_waits_is_advice():
    deep = visit(*filled(Direction.UP, Role.FIRST_HOP, rise_ms=900.0))
    assert first(judge(deep)) == ("delay-rises-under-load", "none", "set-queue-management")
