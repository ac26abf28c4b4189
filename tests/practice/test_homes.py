"""The homes of the practice network: what each brings, and the translator's packets."""

from ipaddress import IPv4Address, ip_address, ip_network

import pytest
from hypothesis import given
from hypothesis import strategies as st

from agent.codec.translation import WELL_KNOWN, embedded
from agent.errors import UsageError
from agent.practice.addresses import (
    IPV4_ONLY_SITES,
    TranslatorAddresses,
    plan_addresses,
    plan_addresses_6,
)
from agent.practice.faults import as_struck
from agent.practice.homes import HOMES
from agent.practice.line import LineSpec
from agent.practice.naming import names_6
from agent.practice.translator import Translator

PLAN, PLAN_6 = plan_addresses(3, 1), plan_addresses_6(3, 1)
LAPTOP, SITE = "2001:db8::20", "192.0.2.80"
FAR = str(embedded(WELL_KNOWN, IPv4Address(SITE)))
POOL = TranslatorAddresses().pool


def test_six_kinds_of_home_are_played():
    """Dual stack, IPv4 only, IPv6 translated, an address typed in, two routers, none."""
    assert {(h.ipv4, h.ipv6, h.handover, h.routers) for h in HOMES.values()} == {
        (True, True, None, 1),
        (True, False, None, 1),
        (False, True, None, 1),
        (True, False, "static", 1),
        (True, False, None, 2),
        (True, False, None, 0),
    }


def test_a_home_brings_what_it_speaks_and_how_it_is_handed_over():
    assert as_struck(LineSpec(home="dual-stack")).ipv6
    assert not as_struck(LineSpec()).ipv6
    assert as_struck(LineSpec(home="static")).handover == "static"
    assert as_struck(LineSpec(handover="pppoe")).handover == "pppoe"


def test_an_unknown_home_is_refused_by_name():
    with pytest.raises(UsageError, match="dual-stack"):
        LineSpec(home="castle")


def test_one_site_has_no_ipv6_address_unless_names_are_made_up_for_it():
    plain = names_6(PLAN, PLAN_6, translated=False)
    made_up = names_6(PLAN, PLAN_6, translated=True)
    (lone,) = (s for s in PLAN.sites if s.name.partition(".")[0] in IPV4_ONLY_SITES)
    assert lone.name not in plain
    (address,) = made_up[lone.name]
    assert ip_address(address) == embedded(WELL_KNOWN, IPv4Address(lone.address))
    assert plain.items() <= made_up.items()


def test_the_name_that_has_only_ipv4_is_made_up_for_as_its_rfc_says():
    """RFC 7050 §2.2: 192.0.0.170 and 192.0.0.171; 64:ff9b::/96 by RFC 6052 §2.1."""
    made_up = names_6(PLAN, PLAN_6, translated=True)
    assert set(made_up["ipv4only.arpa"]) == {"64:ff9b::c000:aa", "64:ff9b::c000:ab"}


def test_the_pool_is_apart_from_every_other_address():
    pool = {
        ip_address(a) for a in (*POOL, TranslatorAddresses().own, TranslatorAddresses().gateway)
    }
    for seed in range(200):
        plan = plan_addresses(seed, 1)
        assert not pool & {ip_address(plan.wan), ip_address(plan.edge)}
    assert {ip_address(a) for a in POOL} == set(ip_network(TranslatorAddresses().pool_prefix))


def transports(scapy):
    return [
        scapy.TCP(sport=40_000, dport=80, seq=7, flags="S", options=[("MSS", 1440)]),
        scapy.TCP(sport=40_000, dport=80, seq=8, flags="PA") / b"GET / HTTP/1.1\r\n\r\n",
        scapy.UDP(sport=40_001, dport=53) / b"odd",
    ]


def test_a_packet_out_and_its_answer_are_as_independently_made():
    """RFC 7915 §4.1 and §5.1: one hop less, the transport's sum anew, all else as it was."""
    scapy = pytest.importorskip("scapy.all")
    for carried in transports(scapy):
        translator = Translator(POOL)
        out = translator.to_ipv4(bytes(scapy.IPv6(src=LAPTOP, dst=FAR, hlim=60) / carried))
        wanted = scapy.IP(src=POOL[0], dst=SITE, ttl=59, id=0, flags="DF") / carried
        assert out == bytes(wanted)
        back = translator.to_ipv6(bytes(scapy.IP(src=SITE, dst=POOL[0], ttl=60) / carried))
        assert back == bytes(scapy.IPv6(src=FAR, dst=LAPTOP, hlim=59) / carried)


def test_an_echo_changes_its_type():
    """RFC 7915 §4.2 and §5.2: 128 is 8, 129 is 0."""
    scapy = pytest.importorskip("scapy.all")
    translator = Translator(POOL)
    ask = scapy.IPv6(src=LAPTOP, dst=FAR) / scapy.ICMPv6EchoRequest(id=5, seq=6, data=b"hello")
    told = scapy.IP(translator.to_ipv4(bytes(ask)))
    assert (told[scapy.ICMP].type, told[scapy.ICMP].id, told[scapy.ICMP].seq) == (8, 5, 6)
    reply = scapy.IP(src=SITE, dst=POOL[0]) / scapy.ICMP(type=0, id=5, seq=6) / b"hello"
    back = translator.to_ipv6(bytes(reply))
    answer = scapy.ICMPv6EchoReply(id=5, seq=6, data=b"hello")
    assert back == bytes(scapy.IPv6(src=FAR, dst=LAPTOP, hlim=63) / answer)


def test_a_stranger_gets_no_answer_and_the_pool_ends():
    scapy = pytest.importorskip("scapy.all")
    stray = bytes(scapy.IP(src=SITE, dst=POOL[1]) / scapy.UDP() / b"hello")
    assert Translator(POOL).to_ipv6(stray) is None
    translator, udp = Translator(POOL[:1]), scapy.UDP() / b"hello"
    assert translator.to_ipv4(bytes(scapy.IPv6(src=LAPTOP, dst=FAR) / udp))
    assert translator.to_ipv4(bytes(scapy.IPv6(src="2001:db8::21", dst=FAR) / udp)) is None


@given(st.binary(max_size=120))
def test_any_bytes_are_translated_or_dropped(data):
    translator = Translator(POOL)
    translator.to_ipv4(data)
    translator.to_ipv6(data)
