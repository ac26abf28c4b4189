"""Where loss is placed, how surely, and in which direction.

Expected places follow from which series goes over which stretch; that routers limit the answers
they give themselves is RFC 1812 §4.3.2.8.
"""

from dataclasses import replace

import pytest
from visits import (
    EDGE,
    GATEWAY,
    SERVER,
    delay,
    first_hop,
    gateway,
    judge,
    lease,
    link,
    modem,
    path,
    server,
    visit,
)

from agent.diagnosis.model import Segment
from agent.measurements import Kind, Medium, Role
from agent.settings.model import PluggedInto

LIKELY = 0.75
PUBLIC, PRIVATE = "198.51.100.254", "192.168.0.1"


def losses(conclusion):
    """Return code, segment and direction of each loss found."""
    found = [f for f in conclusion.diagnosis.findings if f.code.startswith("loss-")]
    return [(f.code, f.segment.value, f.values.get("direction")) for f in found]


def said(*changes, without=(), **stated):
    found = losses(judge(visit(*changes, without=without), **stated))
    assert len(found) <= 1
    return found[0] if found else None


@pytest.mark.parametrize(
    ("changes", "expected"),
    [
        ((server(up=16, down=16), first_hop(up=4, down=4)), ("loss-past-modem", "access", "both")),
        ((server(up=16), first_hop(up=4)), ("loss-past-modem", "access", "up")),
        ((server(down=16), first_hop(down=4)), ("loss-past-modem", "access", "down")),
        ((server(up=16, down=16),), ("loss-in-operator", "operator", "both")),
        ((server(up=16),), ("loss-in-operator", "operator", "up")),
        ((server(down=16),), ("loss-in-operator", "operator", "down")),
        (
            (server(up=16, down=16), first_hop(down=8), gateway(down=8)),
            ("loss-at-gateway", "home", "both"),
        ),
        ((server(up=16), first_hop(up=4), gateway(up=4)), ("loss-at-gateway", "home", "up")),
    ],
)
def test_the_nearest_series_that_loses_as_the_servers_does(changes, expected):
    assert said(*changes) == expected


def test_without_the_servers_own_count_the_direction_is_left_open():
    blind = server(up=16, down=16, told=False)
    assert said(blind, first_hop(down=8)) == ("loss-past-modem", "access", None)


@pytest.mark.parametrize("limited", [20, 60, 100, 190, 200])
@pytest.mark.parametrize("target", [gateway, first_hop])
def test_one_that_limits_its_answers_beside_a_clean_server_is_not_lossy(target, limited):
    assert said(target(down=limited)) is None


@pytest.mark.parametrize("limited", [40, 100, 190])
def test_a_gateway_that_limits_its_answers_hides_no_loss_beyond_it(limited):
    """Its own loss is significantly more than the server's: whose it is stays open."""
    lossy = (gateway(down=limited), server(up=16, down=16), first_hop(down=8))
    assert said(*lossy) == ("loss-before-first-hop", "access", "both")
    assert judge(visit(*lossy)).diagnosis.findings[0].confidence < LIKELY
    core = (gateway(down=limited), server(up=16, down=16))
    assert said(*core) == ("loss-in-operator", "operator", "both")


def test_a_gateway_that_loses_while_the_first_hop_does_not_limits_its_answers():
    """As much as the server's loss by chance, but a later hop is significantly better."""
    assert said(gateway(down=8), server(up=16, down=16))[0] == "loss-in-operator"


@pytest.mark.parametrize("limited", [40, 100, 190])
def test_a_first_hop_that_limits_its_answers_leaves_the_stretch_open(limited):
    assert said(first_hop(down=limited), server(up=16, down=16)) == (
        "loss-past-gateway",
        "access",
        "both",
    )


def test_where_nothing_nearer_answers_the_place_is_left_open():
    found = said(gateway(up=200), first_hop(up=200), server(up=16))
    assert found == ("loss-unplaced", "undetermined", "up")


def test_in_bridge_mode_the_gateways_series_is_the_lines():
    bridged = {"without": ("delay-first-hop",), "plugged_into": PluggedInto.MODEM}
    held = lease(address="198.51.100.77", gateway=PUBLIC)
    lossy = delay(Role.GATEWAY, PUBLIC, down=8)
    assert said(held, lossy, server(up=16, down=16), **bridged)[:2] == (
        "loss-past-modem",
        "access",
    )
    clean = delay(Role.GATEWAY, PUBLIC)
    assert said(held, clean, server(up=16, down=16), **bridged)[:2] == (
        "loss-in-operator",
        "operator",
    )
    limited = delay(Role.GATEWAY, PUBLIC, down=100)
    assert said(held, limited, server(), **bridged) is None


def test_in_bridge_mode_a_bad_cord_to_the_modem_is_not_the_lines():
    """The modem's own series ends before the line: where it loses as much, so does the cord."""
    held = lease(address="198.51.100.77", gateway=PUBLIC)
    bridged = {"without": ("delay-first-hop",), "plugged_into": PluggedInto.MODEM}
    far = (delay(Role.GATEWAY, PUBLIC, down=8), server(up=16, down=16))
    assert said(held, modem(down=8), *far, **bridged)[:2] == ("loss-at-modem", "modem")
    assert said(held, modem(), *far, **bridged)[:2] == ("loss-past-modem", "access")
    without = {**bridged, "without": ("delay-first-hop", "delay-modem")}
    assert said(held, *far, **without)[:2] == ("loss-past-modem", "access")


def test_behind_a_modem_that_routes_the_gateway_is_the_modem():
    routed = {"plugged_into": PluggedInto.MODEM}
    held = lease(address="192.168.0.20", gateway=PRIVATE)
    cord = delay(Role.GATEWAY, PRIVATE, down=8)
    both = (server(up=16, down=16), first_hop(down=8))
    assert said(held, cord, *both, **routed)[:2] == ("loss-at-gateway", "modem")
    sound = delay(Role.GATEWAY, PRIVATE)
    assert said(held, sound, *both, **routed)[:2] == ("loss-past-modem", "access")
    assert said(held, sound, server(down=32), **routed)[:2] == ("loss-in-operator", "operator")


@pytest.mark.parametrize(
    ("near", "expected"),
    [
        (gateway(), ("loss-before-modem", "home", "both")),
        (gateway(up=4, down=4), ("loss-at-gateway", "home", "both")),
    ],
)
def test_a_cord_between_router_and_modem_is_not_the_lines(near, expected):
    lossy = (server(up=16, down=16), first_hop(up=4, down=4), modem(up=4, down=4))
    assert said(*lossy, near, plugged_into=PluggedInto.ROUTER) == expected
    clean = (server(up=16, down=16), first_hop(up=4, down=4), modem())
    assert said(*clean, plugged_into=PluggedInto.ROUTER)[0] == "loss-past-modem"


def test_at_the_end_of_a_session_of_our_own_the_gateway_is_past_the_modem():
    session = (link(medium=Medium.PPP), lease(origin="ppp", gateway="10.255.0.1"))
    lossy = delay(Role.GATEWAY, "10.255.0.1", down=8)
    found = said(*session, lossy, server(up=16, down=16), without=("delay-first-hop",))
    assert found[:2] == ("loss-past-modem", "access")


def test_behind_silent_hops_the_first_that_answers_is_less_sure():
    lossy = (server(up=16, down=16), first_hop(down=8))
    sure = judge(visit(*lossy)).diagnosis.findings[0]
    gap = judge(visit(*lossy, path(GATEWAY, None, EDGE, SERVER))).diagnosis.findings[0]
    assert (sure.segment, gap.segment) == (Segment.ACCESS, Segment.ACCESS)
    assert LIKELY <= gap.confidence < sure.confidence


def in_one_run(item, run):
    """Return a series whose lost probes are those of one run."""
    observed = item.observed
    lost = delay(Role.FIRST_HOP, EDGE, down=1).observed.outcome[0]
    outcome = tuple(lost if n in run else o for n, o in enumerate(observed.outcome))
    trips = tuple(None if n in run else t for n, t in enumerate(observed.rtt_ms))
    arrived = tuple(n for n in observed.arrival_order if n not in run)
    bunched = replace(observed, outcome=outcome, rtt_ms=trips, arrival_order=arrived, copies=())
    return replace(item, observed=bunched)


def test_a_run_of_lost_probes_accuses_less_than_as_many_apart():
    """One busy moment of the gateway may be a run; it is one event, not four."""
    lossy = (server(up=32), first_hop(up=8))
    apart = judge(visit(*lossy, gateway(up=4))).diagnosis.findings[0]
    bunched = judge(visit(*lossy, in_one_run(gateway(), range(50, 54)))).diagnosis.findings[0]
    assert (apart.code, bunched.code) == ("loss-at-gateway",) * 2
    assert bunched.confidence < LIKELY <= apart.confidence


def test_a_walk_supports_and_never_decides():
    """Many attempts that are lost from the edge on; the walk alone makes no finding."""
    walk = path()
    times = 30
    answers = [(1, GATEWAY, True), (2, EDGE, False), (3, SERVER, False), (4, SERVER, False)]
    rows = [(d, a if whole or n % 2 else None) for n in range(times) for d, a, whole in answers]
    count = len(rows)
    lossy = replace(
        walk,
        observed=replace(
            walk.observed,
            distance=tuple(d for d, _ in rows),
            attempt=tuple(n for n in range(times) for _ in answers),
            flow=(0,) * count,
            sent_s=tuple(n * 0.01 for n in range(count)),
            rtt_ms=tuple(None if a is None else 5.0 for _, a in rows),
            answered_by=tuple(a for _, a in rows),
            icmp_type=tuple(None if a is None else 3 if a == SERVER else 11 for _, a in rows),
            icmp_code=tuple(None if a is None else 3 if a == SERVER else 0 for _, a in rows),
        ),
    )
    assert said(lossy) is None
    series = (server(up=16, down=16), first_hop(down=8))
    alone = judge(visit(*series)).diagnosis.findings[0]
    supported = judge(visit(*series, lossy)).diagnosis.findings[0]
    assert (alone.code, supported.code) == ("loss-past-modem",) * 2
    assert supported.confidence >= alone.confidence
    assert said(lossy, server(up=16, down=16)) == ("loss-in-operator", "operator", "both")


def test_each_walk_has_the_segments_of_its_hops():
    found = judge(visit()).diagnosis
    assert found.segments_of("path-server") == (
        Segment.HOME,
        Segment.ACCESS,
        Segment.OPERATOR,
    )
    assert found.segments_of("another") == ()
    bare = judge(visit(without=("path-server",))).diagnosis
    assert bare.walks == ()
    assert all(m.kind is Kind.PATH for m in visit() if m.id == found.walks[0].measurement)
