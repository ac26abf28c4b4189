"""Path, names, web, lease, link and layers: case tables over small observations."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from agent.measurements import (
    Certificate,
    Concentrator,
    HopWalk,
    Kind,
    LeaseFacts,
    LeaseProbe,
    LinkFacts,
    Measurement,
    Medium,
    NameOutcome,
    NameQueries,
    Offer,
    PppoeProbe,
    Reason,
    Role,
    State,
    WebAttempt,
    WebFetch,
)
from agent.stats.layers import LAYERS, Packet, convert
from agent.stats.lease import lease_statistics
from agent.stats.link import link_statistics
from agent.stats.names import dns_statistics
from agent.stats.path import path_statistics
from agent.stats.summary import summarise
from agent.stats.web import http_statistics

TARGET = "203.0.113.9"
TTL = (11, 0)


def walk(*answers, target=TARGET):
    """One attempt per distance: None is silence, else (address, (type, code))."""
    return HopWalk(
        target=target,
        protocol="udp",
        waiting_s=1.0,
        distance=tuple(range(1, len(answers) + 1)),
        attempt=(0,) * len(answers),
        flow=(0,) * len(answers),
        sent_s=(0.0,) * len(answers),
        rtt_ms=tuple(None if a is None else 5.0 for a in answers),
        answered_by=tuple(None if a is None else a[0] for a in answers),
        icmp_type=tuple(None if a is None else a[1][0] for a in answers),
        icmp_code=tuple(None if a is None else a[1][1] for a in answers),
        names=(("192.0.2.1", "gateway.example"),),
    )


GATEWAY, EDGE, CORE = ("192.0.2.1", TTL), ("198.51.100.1", TTL), ("198.51.100.7", TTL)


@pytest.mark.parametrize(
    ("answers", "reached", "hops", "stopped_at", "code"),
    [
        ([GATEWAY, EDGE, (TARGET, (3, 3)), (TARGET, (3, 3))], True, 3, None, None),
        ([GATEWAY, None, (TARGET, (3, 3))], True, 3, None, None),
        ([GATEWAY, ("198.51.100.9", (3, 3))], True, 2, None, None),
        ([GATEWAY, EDGE, None, None], False, 2, 2, "silent"),
        ([GATEWAY, EDGE, ("198.51.100.1", (3, 1)), None], False, 2, 2, "host-unreachable"),
        ([GATEWAY, None, ("198.51.100.1", (3, 1)), None], False, 3, 3, "host-unreachable"),
        ([GATEWAY, ("192.0.2.1", (3, 1)), ("192.0.2.1", (3, 1))], False, 1, 1, "host-unreachable"),
        ([GATEWAY, EDGE, (TARGET, (3, 13))], False, 3, 3, "prohibited"),
        ([GATEWAY, EDGE, (TARGET, (3, 12))], False, 3, 3, "unreachable-12"),
        ([GATEWAY, EDGE, GATEWAY, EDGE, GATEWAY], False, 3, 3, "loop"),
        ([GATEWAY, EDGE, EDGE, EDGE, EDGE], False, 4, 4, "loop"),
        ([GATEWAY, EDGE, None, EDGE, GATEWAY, None], False, 5, 5, "loop"),
        ([GATEWAY, EDGE, GATEWAY, CORE, None], False, 4, 4, "silent"),
        ([GATEWAY, EDGE, CORE], False, 3, 3, "hop-limit"),
        ([GATEWAY, EDGE, EDGE, None], False, 3, 3, "silent"),
        ([None, None], False, 0, None, "silent"),
        ([], False, 0, None, "silent"),
    ],
)
def test_where_a_walk_ends(answers, reached, hops, stopped_at, code):
    """Types and codes after RFC 792 and RFC 1812 §5.2.7.1."""
    found = path_statistics(walk(*answers))
    assert (found.reached, len(found.hops)) == (reached, hops)
    assert (found.stopped_at, found.stop_code) == (stopped_at, code)


def test_ipv6_codes_are_their_own():
    """RFC 4443 §3.1: code 4 is port unreachable there, 3 address unreachable."""
    router = ("2001:db8::1", (3, 0))
    end = ("2001:db8::9", (1, 4))
    assert path_statistics(walk(router, end, target="2001:db8::9")).reached
    refused = path_statistics(walk(router, ("2001:db8::1", (1, 3)), target="2001:db8::9"))
    assert refused.stop_code == "host-unreachable"


def test_silent_hops_and_names():
    found = path_statistics(walk(GATEWAY, None, (TARGET, (3, 3))))
    assert [h.addresses for h in found.hops] == [("192.0.2.1",), (), (TARGET,)]
    assert found.hops[0].names == ("gateway.example",)
    assert [(h.sent, h.answered) for h in found.hops] == [(1, 1), (1, 0), (1, 1)]


OK, LOST = NameOutcome.ANSWERED, NameOutcome.LOST


def queries(*rows):
    """Rows of (name, outcome, rcode, rtt, addresses)."""
    return NameQueries(
        resolver="192.0.2.53",
        transport="udp",
        waiting_s=2.0,
        name=tuple(r[0] for r in rows),
        qtype=("A",) * len(rows),
        sent_s=(0.0,) * len(rows),
        outcome=tuple(r[1] for r in rows),
        rcode=tuple(r[2] for r in rows),
        rtt_ms=tuple(r[3] for r in rows),
        addresses=tuple(r[4] for r in rows),
        authenticated=(None,) * len(rows),
        truncated=(None,) * len(rows),
    )


def test_answers_errors_and_rewriting():
    good = ("a.example", OK, 0, 10.0, ("192.0.2.7",))
    broken = ("b.example", OK, 2, 10.0, ())
    gone = ("c.example", LOST, None, None, ())
    never = ("x.invalid", OK, 3, 10.0, ())
    found = dns_statistics(queries(good, broken, gone, never))
    assert (found.sent, found.answered) == (4, 2)
    assert found.errors == (("lost", 1), ("rcode-2", 1))
    assert found.rewrites_nxdomain is False
    lied = dns_statistics(queries(good, ("x.invalid", OK, 0, 9.0, ("192.0.2.99",))))
    assert lied.rewrites_nxdomain is True
    assert dns_statistics(queries(good)).rewrites_nxdomain is None


def test_unanswered_queries_take_for_ever():
    good = ("a.example", OK, 0, 10.0, ())
    gone = ("a.example", LOST, None, None, ())
    assert dns_statistics(queries(good, good, gone)).median_ms == 10.0
    assert dns_statistics(queries(good, gone, gone)).median_ms is None
    assert dns_statistics(queries(gone)).answered == 0


def fetch(*attempts, marker=False, url="https://www.example.com/"):
    return WebFetch(target="page", url=url, marker=marker, attempts=attempts)


def came(**more):
    fields = {"sent_s": 0.0, "status": 200, "total_ms": 50.0}
    return WebAttempt(**{**fields, **more})


@pytest.mark.parametrize(
    ("attempts", "marker", "answered", "intercepted"),
    [
        ([came()], False, 1, False),
        ([came(marker_found=True)], True, 1, False),
        ([came(marker_found=False)], True, 0, True),
        ([came(marker_found=None)], True, 0, False),
        ([came(redirected_to="https://example.com/home")], False, 1, False),
        ([came(redirected_to="http://activate.ternbay.example/")], False, 0, True),
        ([came(redirected_to="http://192.0.2.1/")], False, 0, True),
        ([WebAttempt(sent_s=0.0, problem="timed-out")], False, 0, None),
        ([], False, 0, None),
    ],
)
def test_a_page_that_is_the_right_one(attempts, marker, answered, intercepted):
    found = http_statistics(fetch(*attempts, marker=marker))
    assert (found.answered, found.intercepted) == (answered, intercepted)


def test_medians_of_phases_and_certificate():
    shown = Certificate(valid=False, problem="expired", expires="2026-01-01T00:00:00Z")
    found = http_statistics(
        fetch(
            came(connect_ms=10.0, total_ms=30.0),
            came(connect_ms=20.0, total_ms=50.0),
            WebAttempt(sent_s=0.0, connect_ms=90.0, problem="tls-fault", certificate=shown),
        )
    )
    assert (found.connect_ms, found.total_ms, found.tls_ms) == (20.0, 40.0, None)
    assert (found.certificate_valid, found.certificate_expires) == (False, shown.expires)


@pytest.mark.parametrize(
    ("family", "origin", "address", "usable"),
    [
        (4, "dhcp", "192.0.2.20", True),
        (4, "static", "192.0.2.20", True),
        (4, "ppp", "192.0.2.20", True),
        (4, "unknown", "192.0.2.20", True),
        (4, "unknown", "169.254.7.7", False),
        (4, "self-assigned", "169.254.7.7", False),
        (4, "dhcp", "169.254.7.7", False),
        (4, "none", None, False),
        (4, "dhcp", "0.0.0.0", False),
        (6, "kernel", "fe80::1%eth0", False),
        (6, "kernel", "2001:db8::7", True),
        (4, "dhcp", "garbage", False),
    ],
)
def test_usable_addresses(family, origin, address, usable):
    """Link-local ranges: RFC 3927 §2.1, RFC 4291 §2.5.6."""
    found = lease_statistics(LeaseFacts(family=family, origin=origin, address=address))
    assert found.usable is usable


def test_timers_that_the_server_gave_are_kept():
    given = LeaseFacts(
        family=4, origin="dhcp", address="192.0.2.20", lease_s=3600, t1_s=600, t2_s=900
    )
    found = lease_statistics(given)
    assert (found.t1_s, found.t2_s, found.timers_assumed) == (600, 900, False)
    endless = LeaseFacts(family=4, origin="dhcp", address="192.0.2.20", lease_s=0xFFFFFFFF)
    assert lease_statistics(endless).t1_s is None


def test_offers_of_two_servers():
    def offer(server, after):
        return Offer(
            after_ms=after, server_id=server, server_hardware_address=None, address="192.0.2.30"
        )

    probe = LeaseProbe(
        sent=1,
        listened_s=6.0,
        offers=(offer("192.0.2.1", 20.0), offer("192.0.2.2", 8.0), offer("192.0.2.1", 30.0)),
    )
    facts = LeaseFacts(family=4, origin="dhcp", address="192.0.2.20", probe=probe)
    found = lease_statistics(facts)
    assert (found.offers, found.servers) == (3, ("192.0.2.1", "192.0.2.2"))
    assert found.first_offer_ms == 8.0
    assert lease_statistics(LeaseFacts(family=4, origin="none")).offers is None


def test_concentrators_are_counted_and_the_first_named():
    def heard(after):
        return Concentrator(after_ms=after, hardware_address="02:00:5e:10:00:fe", name="ternbay")

    probe = PppoeProbe(sent=1, listened_s=3.0, concentrators=(heard(9.0), heard(4.0)))
    found = lease_statistics(LeaseFacts(family=4, origin="none", pppoe=probe))
    assert (found.concentrators, found.first_concentrator_ms) == (2, 4.0)
    silent = lease_statistics(
        LeaseFacts(family=4, origin="none", pppoe=PppoeProbe(sent=2, listened_s=3.0))
    )
    assert (silent.concentrators, silent.first_concentrator_ms) == (0, None)
    assert lease_statistics(LeaseFacts(family=4, origin="none")).concentrators is None


def test_ceiling_of_a_port():
    """RFC 6349 §4.1.1: 94.9 Mbit/s of TCP over 100 Mbit/s Ethernet."""
    wired = LinkFacts(interface="lan0", up=True, medium=Medium.WIRED, speed_bps=100_000_000)
    assert link_statistics(wired).ceiling_bps == pytest.approx(94.93e6, rel=1e-4)
    radio = LinkFacts(interface="wl0", up=True, medium=Medium.WIRELESS, speed_bps=300_000_000)
    assert link_statistics(radio).ceiling_bps is None
    assert link_statistics(radio).errors is None


@pytest.mark.parametrize(
    ("layer", "octets"),
    [("payload", 1460), ("ip", 1500), ("frame", 1514), ("docsis-frame", 1518), ("wire", 1538)],
)
def test_octets_of_a_full_packet(layer, octets):
    """RFC 6349 §4.1.1 for the wire, RFC 4323 for what a service flow counts."""
    assert Packet().bytes_at(layer) == octets


def test_pppoe_keeps_the_frame_whole():
    """RFC 2516 §7: eight octets of the Ethernet payload, so 1492 + 8 fill the frame."""
    assert Packet(mtu_bytes=1492, wrapping_bytes=8).bytes_at("wire") == 1538


@given(st.sampled_from(LAYERS), st.sampled_from(LAYERS), st.floats(1e4, 1e11))
def test_conversion_goes_there_and_back(one, other, rate):
    packet = Packet(header_bytes=52)
    there = convert(rate, packet, one, other)
    assert convert(there, packet, other, one) == pytest.approx(rate)


def test_nothing_observed_is_nothing_computed():
    failed = Measurement(
        kind=Kind.DNS,
        role=Role.RESOLVER,
        state=State.FAILED,
        method="dns-udp",
        started_s=0.0,
        duration_s=0.0,
        reason=Reason(code="no-address"),
    )
    assert summarise(failed) is None
