"""Router advertisements against RFC 4861, 4191, 8106, 8781, 8910, and scapy as another coder."""

import ipaddress
from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scapy.layers import inet6 as s6

from agent.codec import ipv6
from agent.codec import router_advertisement as ra
from agent.errors import MalformedMessage

ROUTER = "fe80::1"
MAC = "02:00:5e:10:00:01"
UNRESTRICTED = b"urn:ietf:params:capport:unrestricted"
HEAD = bytes.fromhex("86000000 40 00 0708 00000000 00000000")
"""RFC 4861 §4.2: type 134, code 0, checksum, hop limit 64, flags, lifetime 1800 s, two timers."""


def foreign(*options, **fields):
    """Return (packet as bytes) of an advertisement that scapy made."""
    said = {"chlim": 64, "M": 0, "O": 0, "routerlifetime": 1800, **fields}
    packet = s6.IPv6(src=ROUTER, dst="ff02::1", hlim=255) / s6.ICMPv6ND_RA(**said)
    for option in options:
        packet /= option
    return bytes(packet)


def said_by(*options, **fields):
    return ra.decode(ipv6.decode(foreign(*options, **fields)).payload)


def option(kind, value):
    assert (len(value) + 2) % 8 == 0
    return bytes((kind, (len(value) + 2) // 8)) + value


def test_everything_that_another_coder_writes_is_read():
    said = said_by(
        s6.ICMPv6NDOptSrcLLAddr(lladdr=MAC),
        s6.ICMPv6NDOptPrefixInfo(
            prefix="2001:db8:1::", prefixlen=64, L=1, A=0, validlifetime=86400, preferredlifetime=60
        ),
        s6.ICMPv6NDOptMTU(mtu=1492),
        s6.ICMPv6NDOptRouteInfo(prefix="2001:db8:9::", plen=48, prf=1, rtlifetime=900),
        s6.ICMPv6NDOptRDNSS(dns=["2001:db8::53", "2001:db8::54"], lifetime=1200),
        s6.ICMPv6NDOptDNSSL(searchlist=["ternbay.example", "home.ternbay.example"], lifetime=300),
        s6.ICMPv6NDOptCaptivePortal(URI=UNRESTRICTED),
        s6.ICMPv6NDOptPREF64(prefix="64:ff9b::", scaledlifetime=225, plc=0),
        M=1,
        O=1,
        prf=1,
        reachabletime=30000,
        retranstimer=1000,
    )
    assert said == ra.RouterAdvertisement(
        managed=True,
        other=True,
        preference=ra.Preference.HIGH,
        reachable_ms=30000,
        retransmit_ms=1000,
        source_hardware=bytes.fromhex(MAC.replace(":", "")),
        mtu_bytes=1492,
        prefixes=(
            ra.PrefixInfo(
                network="2001:db8:1::", prefix=64, autonomous=False, valid_s=86400, preferred_s=60
            ),
        ),
        routes=(
            ra.RouteInfo(
                network="2001:db8:9::", prefix=48, preference=ra.Preference.HIGH, lifetime_s=900
            ),
        ),
        dns=("2001:db8::53", "2001:db8::54"),
        dns_lifetime_s=1200,
        domains=("ternbay.example", "home.ternbay.example"),
        captive_api=UNRESTRICTED.decode(),
        translator="64:ff9b::/96",
    )


def test_another_coder_reads_the_same_from_ours():
    said = ra.RouterAdvertisement(
        other=True,
        router_lifetime_s=0,
        prefixes=(ra.PrefixInfo(network="2001:db8:1::", prefix=64, valid_s=7, preferred_s=5),),
        dns=("2001:db8::53",),
        dns_lifetime_s=99,
        captive_api="https://portal.ternbay.example/api",
    )
    whole = s6.IPv6(ipv6.encode(ra.advertisement(ROUTER, said)))
    assert (whole.hlim, whole.dst, whole.nh) == (255, "ff02::1", 58)
    told = whole[s6.ICMPv6ND_RA]
    assert (told.M, told.O, told.routerlifetime) == (0, 1, 0)
    prefix = whole[s6.ICMPv6NDOptPrefixInfo]
    assert (prefix.prefix, prefix.prefixlen, prefix.validlifetime, prefix.preferredlifetime) == (
        "2001:db8:1::",
        64,
        7,
        5,
    )
    assert whole[s6.ICMPv6NDOptRDNSS].dns == ["2001:db8::53"]
    assert whole[s6.ICMPv6NDOptCaptivePortal].URI == b"https://portal.ternbay.example/api"
    expected = told.cksum
    del told.cksum
    assert s6.IPv6(bytes(whole))[s6.ICMPv6ND_RA].cksum == expected


def test_the_solicitation_is_one_that_routers_take():
    """RFC 4861 §6.1.1: hop limit 255, and no hardware address from the unspecified address."""
    own = bytes.fromhex(MAC.replace(":", ""))
    whole = s6.IPv6(ipv6.encode(ra.solicitation("fe80::2", own)))
    assert (whole.hlim, whole.dst, whole[s6.ICMPv6NDOptSrcLLAddr].lladdr) == (255, "ff02::2", MAC)
    bare = s6.IPv6(ipv6.encode(ra.solicitation("::", own)))
    assert s6.ICMPv6ND_RS in bare
    assert s6.ICMPv6NDOptSrcLLAddr not in bare


@pytest.mark.parametrize("hops", [0, 1, 64, 254])
def test_what_a_router_forwarded_is_no_neighbours(hops):
    """RFC 4861 §11.2: hop limit 255, so that nobody off the link can speak."""
    packet = ipv6.decode(foreign())
    assert ra.from_neighbour(packet)
    assert not ra.from_neighbour(replace(packet, hop_limit=hops))


def test_a_neighbour_speaks_from_the_link_with_a_right_checksum():
    """RFC 4861 §6.1.2."""
    packet = ipv6.decode(foreign())
    other = s6.IPv6(src="2001:db8::1", dst="ff02::1", hlim=255) / s6.ICMPv6ND_RA()
    assert not ra.from_neighbour(ipv6.decode(bytes(other)))
    assert not ra.from_neighbour(replace(packet, payload=packet.payload[:-1] + b"\1"))
    assert not ra.from_neighbour(replace(packet, next_header=17))


@pytest.mark.parametrize(
    "message",
    [
        HEAD[:15],  # RFC 4861 §6.1.2: at least 16 octets
        b"\x86\1" + HEAD[2:],  # code 0
        b"\x85" + HEAD[1:],  # another type
        HEAD + bytes((5, 0)) + bytes(6),  # an option of no length
        HEAD + bytes((5, 2)) + bytes(6),  # an option that ends early
        HEAD + option(200, bytes(6)) * 65,
    ],
)
def test_what_the_standard_discards_is_refused(message):
    with pytest.raises(MalformedMessage):
        ra.decode(message)


FAULTY = {
    "a prefix of 129 bits": option(3, bytes((129, 0xC0)) + bytes(28)),
    "a short prefix option": option(3, bytes(22)),
    "a long MTU option": option(5, bytes(14)),
    "no resolver": option(25, bytes(6)),
    "half a resolver": option(25, bytes(14)),
    "a route of more bits than octets": option(24, bytes((65, 0)) + bytes(4) + bytes(8)),
    "a reserved preference": option(24, bytes((0, 0x10)) + bytes(4)),  # RFC 4191 §2.3
    "a compressed name": option(31, bytes(6) + b"\xc0\x0c" + bytes(6)),  # RFC 8106 §5.1
    "no scheme": option(37, b"portal"),
    "a reserved prefix length": option(38, bytes((0, 6)) + bytes(12)),  # RFC 8781 §4
}


@pytest.mark.parametrize("faulty", FAULTY.values(), ids=FAULTY.keys())
def test_a_broken_option_is_named_and_the_rest_is_read(faulty):
    said = ra.decode(HEAD + faulty + option(5, bytes(2) + (1480).to_bytes(4)))
    assert said.faulty_options == (faulty[0],)
    assert said.mtu_bytes == 1480
    assert (said.prefixes, said.dns, said.captive_api, said.translator) == ((), (), None, None)


@pytest.mark.parametrize(("code", "bits"), [(0, 96), (1, 64), (2, 56), (3, 48), (4, 40), (5, 32)])
def test_the_prefix_of_the_translator_has_six_lengths(code, bits):
    """RFC 8781 §4."""
    value = (225 << 3 | code).to_bytes(2) + ipaddress.IPv6Address("64:ff9b::").packed[:12]
    assert ra.decode(HEAD + option(38, value)).translator == f"64:ff9b::/{bits}"


def test_the_portal_option_of_no_portal_is_padded_to_five_units():
    """RFC 8910 §2, §2.3: 36 octets of URI, two of head, two of padding."""
    written = ra.encode(ra.RouterAdvertisement(captive_api=UNRESTRICTED.decode()))[16:]
    assert (written[0], written[1], len(written)) == (37, 5, 40)
    assert written[38:] == b"\0\0"


def test_a_reserved_preference_counts_as_medium():
    """RFC 4191 §2.2."""
    assert ra.decode(HEAD[:5] + b"\x10" + HEAD[6:]).preference == ra.Preference.MEDIUM


def test_a_route_may_be_cut_to_what_its_prefix_needs():
    """RFC 4191 §2.3: length 1, 2 or 3 units."""
    short = option(24, bytes((0, 0)) + (60).to_bytes(4))
    half = option(24, bytes((32, 0)) + (60).to_bytes(4) + bytes.fromhex("20010db8ffffffff"))
    said = ra.decode(HEAD + short + half)
    assert [(r.network, r.prefix) for r in said.routes] == [("::", 0), ("2001:db8::", 32)]


addresses = st.ip_addresses(v=6).map(str)
seconds = st.integers(0, 2**32 - 1)
labels = st.from_regex(r"[a-z0-9]([a-z0-9-]{0,10}[a-z0-9])?", fullmatch=True)


@st.composite
def prefixes(draw):
    network = ipaddress.IPv6Network(
        (draw(st.integers(0, 2**128 - 1)), draw(st.integers(0, 128))), strict=False
    )
    return ra.PrefixInfo(
        network=str(network.network_address),
        prefix=network.prefixlen,
        on_link=draw(st.booleans()),
        autonomous=draw(st.booleans()),
        valid_s=draw(seconds),
        preferred_s=draw(seconds),
    )


@given(
    said=st.builds(
        ra.RouterAdvertisement,
        hop_limit=st.integers(0, 255),
        managed=st.booleans(),
        other=st.booleans(),
        preference=st.sampled_from(ra.Preference),
        router_lifetime_s=st.integers(0, 65535),
        reachable_ms=seconds,
        retransmit_ms=seconds,
        source_hardware=st.none() | st.binary(min_size=6, max_size=6),
        mtu_bytes=st.none() | seconds,
        prefixes=st.lists(prefixes(), max_size=4).map(tuple),
        dns=st.lists(addresses, max_size=4).map(tuple),
        domains=st.lists(st.lists(labels, min_size=1, max_size=3).map(".".join), max_size=3).map(
            tuple
        ),
        captive_api=st.none() | st.just("https://portal.ternbay.example/api"),
        translator=st.none() | st.just("2001:db8:64::/96"),
    ),
    lifetime=seconds,
)
def test_what_is_written_is_read_again(said, lifetime):
    said = replace(said, dns_lifetime_s=lifetime if said.dns else None)
    assert ra.decode(ra.encode(said)) == said


@given(st.binary(max_size=300))
def test_any_bytes_are_read_or_refused(noise):
    try:
        said = ra.decode(HEAD + noise)
    except MalformedMessage:
        return
    assert len(said.prefixes) <= 64
