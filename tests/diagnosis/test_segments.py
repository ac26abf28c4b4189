"""Which segment each hop belongs to.

Where a range says whose a hop is, its standard is RFC 1918 (private), RFC 6598 (shared), RFC 4193
(unique local), RFC 3927 and RFC 4291 (link local). What may stand in a home, and that a bridging
modem or a PPPoE session makes the operator's router the first hop: common practice of the trade,
no source.
"""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from agent.diagnosis.model import Segment
from agent.diagnosis.segments import Surroundings, first_past_modem, hop_segments
from agent.settings.model import PluggedInto

SERVER = "203.0.113.9"
LETTERS = {
    "L": Segment.LAPTOP,
    "H": Segment.HOME,
    "M": Segment.MODEM,
    "A": Segment.ACCESS,
    "O": Segment.OPERATOR,
    "B": Segment.BEYOND,
    "?": Segment.UNDETERMINED,
}


def around(plugged, *gateways, own="192.168.1.20", **more):
    fields = {
        "plugged_into": PluggedInto(plugged),
        "own": frozenset(own.split()),
        "gateways": frozenset(gateways),
        "servers": frozenset({SERVER, "2001:db8:ffff::9"}),
        **more,
    }
    return Surroundings(**fields)


def walked(text):
    """Read a walk: hops apart by blanks, "-" for a silent one, "|" between parallel addresses."""
    return tuple(() if hop == "-" else tuple(hop.split("|")) for hop in text.split())


HOME = around("router", "192.168.1.1", seen="198.51.100.77")
MESH = around("mesh", "192.168.1.1")
BRIDGED = around("modem", "198.51.100.1", own="198.51.100.77", seen="198.51.100.77")
ROUTING = around("modem", "192.168.0.1", own="192.168.0.20")
ONT = around("ont", "100.64.0.1", own="100.64.0.77")
DIALLED = around("modem", "10.255.0.1", own="198.51.100.77", dialled=True)
MANAGED = around("router", "192.168.1.1", modem="192.168.100.1")
NOBODY_SAID = around("unknown", "192.168.1.1")
PUBLIC = around("unknown", "198.51.100.1", own="198.51.100.77", seen="198.51.100.77")
TRANSLATED = around("unknown", "198.18.3.1", own="198.18.3.20", seen="198.51.100.77")
SHARED = around("unknown", "100.64.0.1", own="100.64.0.77")
KNOWN = around(
    "router", "192.168.1.1", network=("198.51.100.0/24", "203.0.113.0/28", "2001:db8:ffff::/48")
)
SIX = around("router", "fe80::1", own="2001:db8:7:1::20 fe80::20")
SIX_BRIDGED = around("ont", "fe80::1", own="2001:db8:7:1::20")
SIX_ROUTING = around("modem", "fe80::1", "192.168.0.1", own="2001:db8:7:1::20")

CASES = {
    "one router": (HOME, "192.168.1.1 198.51.100.1 198.51.100.9 203.0.113.9", "HAOO"),
    "shared range past the home": (HOME, "192.168.1.1 100.64.0.1 198.51.100.9", "HAO"),
    "silent edge": (HOME, "192.168.1.1 - 198.51.100.9 203.0.113.9", "H?OO"),
    "silent gateway": (HOME, "- 198.51.100.1 203.0.113.9", "HAO"),
    "silent hop in the core": (HOME, "192.168.1.1 198.51.100.1 - 198.51.100.9", "HAOO"),
    "two silent in the core": (HOME, "192.168.1.1 198.51.100.1 - - 203.0.113.9", "HAOOO"),
    "silent to the end": (HOME, "192.168.1.1 198.51.100.1 - -", "HA??"),
    "nothing answers": (HOME, "- - -", "H??"),
    "second router": (MESH, "192.168.1.1 10.0.0.1 198.51.100.1 203.0.113.9", "HHAO"),
    "third router": (MESH, "192.168.1.1 192.168.0.1 10.0.0.1 198.51.100.1", "HHHA"),
    "too many for a home": (
        MESH,
        "192.168.1.1 10.0.0.1 10.0.1.1 10.0.2.1 198.51.100.1 203.0.113.9",
        "H???OO",
    ),
    "private after a silent hop": (MESH, "192.168.1.1 - 10.0.0.1 203.0.113.9", "H??O"),
    "private inside the operator's": (
        HOME,
        "192.168.1.1 198.51.100.1 10.9.9.1 203.0.113.9",
        "HAOO",
    ),
    "our own outer address": (HOME, "192.168.1.1 198.51.100.77 198.51.100.1", "HHA"),
    "bridge mode": (BRIDGED, "198.51.100.1 198.51.100.9 203.0.113.9", "AOO"),
    "bridge mode, silent edge": (BRIDGED, "- 198.51.100.9 203.0.113.9", "AOO"),
    "bridge mode, private core": (BRIDGED, "198.51.100.1 10.0.0.1 203.0.113.9", "AOO"),
    "modem that routes": (ROUTING, "192.168.0.1 198.51.100.1 203.0.113.9", "MAO"),
    "modem that routes, then private": (ROUTING, "192.168.0.1 10.0.0.1 203.0.113.9", "MAO"),
    "modem that routes, silent edge": (ROUTING, "192.168.0.1 - 198.51.100.9", "MAO"),
    "modem that routes, silent itself": (ROUTING, "- 198.51.100.1 198.51.100.9", "MAO"),
    "ONT, shared range": (ONT, "100.64.0.1 100.64.9.1 203.0.113.9", "AOO"),
    "PPPoE, private far end": (DIALLED, "10.255.0.1 10.1.0.1 203.0.113.9", "AOO"),
    "PPPoE, silent far end": (DIALLED, "- - 198.51.100.9 203.0.113.9", "AOOO"),
    "management address": (MANAGED, "192.168.1.1 192.168.100.1 198.51.100.1", "HMA"),
    "management address, silent edge": (MANAGED, "192.168.1.1 192.168.100.1 - 203.0.113.9", "HMAO"),
    "nobody said": (NOBODY_SAID, "192.168.1.1 198.51.100.1 203.0.113.9", "HAO"),
    "nobody said, nothing translated": (PUBLIC, "198.51.100.1 198.51.100.9 203.0.113.9", "?OO"),
    "nobody said, translated": (TRANSLATED, "198.18.3.1 198.51.100.1 203.0.113.9", "HAO"),
    "nobody said, shared gateway": (SHARED, "100.64.0.1 198.51.100.9 203.0.113.9", "AOO"),
    "parallel ways": (
        HOME,
        "192.168.1.1 198.51.100.1 198.51.100.9|198.51.100.10 203.0.113.9",
        "HAOO",
    ),
    "link local next door to the edge": (
        HOME,
        "192.168.1.1 198.51.100.1 169.254.7.7 203.0.113.9",
        "HAOO",
    ),
    "IPv6": (SIX, "2001:db8:7:1::1 2001:db8:ff::1 2001:db8:ff::2 2001:db8:ffff::9", "HAOO"),
    "IPv6, second router by its site": (
        SIX,
        "2001:db8:7:1::1 2001:db8:7:2::1 2001:db8:ff::1 2001:db8:ffff::9",
        "HHAO",
    ),
    "IPv6, second router by its range": (SIX, "2001:db8:7:1::1 fd00:7::1 2001:db8:ff::1", "HHA"),
    "IPv6, link-local gateway answers": (SIX, "fe80::1 2001:db8:ff::1 2001:db8:ffff::9", "HAO"),
    "IPv6, silent gateway": (SIX, "- 2001:db8:ff::1 - 2001:db8:ffff::9", "HAOO"),
    "IPv6, bridge mode": (SIX_BRIDGED, "2001:db8:7:1::1 2001:db8:ff::1 2001:db8:ffff::9", "AOO"),
    "IPv6, modem that routes": (SIX_ROUTING, "2001:db8:7:1::1 2001:db8:ff::1", "MA"),
    "server at the operator's edge": (HOME, "192.168.1.1 203.0.113.9", "HO"),
    "our own address further out": (HOME, "192.168.1.1 192.168.1.20 198.51.100.1", "HHA"),
    "private past the modem's own": (MANAGED, "192.168.1.1 192.168.100.1 10.0.0.1", "HMA"),
    "server next door": (HOME, "203.0.113.9", "O"),
}


@pytest.mark.parametrize(("surroundings", "walk", "expected"), CASES.values(), ids=CASES.keys())
def test_the_segment_of_each_hop_of_a_walk_to_the_server(surroundings, walk, expected):
    target = "2001:db8:ffff::9" if "2001:" in walk else SERVER
    found = hop_segments(walked(walk), surroundings, target)
    assert found == tuple(LETTERS[letter] for letter in expected)


@pytest.mark.parametrize(
    ("surroundings", "walk", "expected"),
    [
        (HOME, "192.168.1.1 198.51.100.1 198.51.100.9 192.0.2.1 192.0.2.80", "HAO?B"),
        (HOME, "192.168.1.1 203.0.113.200 192.0.2.1 10.9.9.1 192.0.2.80", "HAOOB"),
        (KNOWN, "192.168.1.1 198.51.100.1 203.0.113.3 192.0.2.1 192.0.2.80", "HAOBB"),
        (KNOWN, "192.168.1.1 198.51.100.1 192.0.2.1 203.0.113.3 192.0.2.80", "HAOOB"),
        (KNOWN, "192.168.1.1 198.51.100.1 203.0.113.3 - 192.0.2.80", "HAO?B"),
        (KNOWN, "192.168.1.1 198.51.100.1 203.0.113.3 192.0.2.1 - 192.0.2.80", "HAOBBB"),
    ],
)
def test_past_the_operators_last_known_address_begins_what_is_others(surroundings, walk, expected):
    """Only prefixes that were configured, or our address as seen, tell the operator's hops."""
    outside = Surroundings(**{**fields(surroundings), "outside": frozenset({"192.0.2.80"})})
    found = hop_segments(walked(walk), outside, "192.0.2.80")
    assert found == tuple(LETTERS[letter] for letter in expected)


def test_a_server_outside_the_operators_own_prefixes_lies_beyond():
    elsewhere = Surroundings(**{**fields(KNOWN), "servers": frozenset({"192.0.2.9"})})
    walk = walked("192.168.1.1 198.51.100.1 203.0.113.3 192.0.2.1 192.0.2.9")
    found = hop_segments(walk, elsewhere, "192.0.2.9")
    assert found == tuple(LETTERS[letter] for letter in "HAOBB")


def test_an_address_seen_on_another_line_says_nothing_of_this_operators_network():
    other = around("router", "192.168.1.1", seen="192.0.2.77", customers=("198.51.100.0/24",))
    assert not other.is_operators("192.0.2.1")
    assert other.is_operators("198.51.100.1")
    own = around("router", "192.168.1.1", seen="192.0.2.77")
    assert own.is_operators("192.0.2.1")


def fields(surroundings):
    return {name: getattr(surroundings, name) for name in Surroundings.__slots__}


@pytest.mark.parametrize(
    ("surroundings", "walk", "expected"),
    [
        (HOME, "192.168.1.1 198.51.100.1 203.0.113.9", "198.51.100.1"),
        (HOME, "192.168.1.1 - 198.51.100.9 203.0.113.9", "198.51.100.9"),
        (HOME, "192.168.1.1 198.51.100.77 198.51.100.1 203.0.113.9", "198.51.100.1"),
        (MESH, "192.168.1.1 10.0.0.1 198.51.100.1 203.0.113.9", "198.51.100.1"),
        (MESH, "192.168.1.1 - 10.0.0.1 198.51.100.1 203.0.113.9", "198.51.100.1"),
        (MANAGED, "192.168.1.1 192.168.100.1 198.51.100.1 203.0.113.9", "198.51.100.1"),
        (ROUTING, "192.168.0.1 198.51.100.1 203.0.113.9", "198.51.100.1"),
        (BRIDGED, "198.51.100.1 198.51.100.9 203.0.113.9", None),
        (DIALLED, "10.255.0.1 198.51.100.9 203.0.113.9", None),
        (DIALLED, "- 198.51.100.9 203.0.113.9", "198.51.100.9"),
        (SIX, "2001:db8:7:1::1 2001:db8:7:2::1 2001:db8:ff::1", "2001:db8:ff::1"),
        (HOME, "192.168.1.1 - 203.0.113.9", None),
        (HOME, "192.168.1.1 - -", None),
        (HOME, "", None),
    ],
)
def test_the_first_router_past_the_modem_is_timed(surroundings, walk, expected):
    assert first_past_modem(walked(walk), surroundings) == expected


def test_a_redacted_record_has_no_addresses_and_still_its_gateway():
    redacted = around("router", "address:1", own="address:2", seen="address:3", modem="address:4")
    walk = walked("address:1 address:5 address:6 203.0.113.9")
    assert hop_segments(walk, redacted, SERVER) == tuple(LETTERS[letter] for letter in "HAOO")


ADDRESSES = st.sampled_from(
    [
        "address:7",
        "192.168.1.1",
        "10.0.0.1",
        "100.64.0.1",
        "169.254.1.1",
        "198.51.100.1",
        "198.51.100.77",
        "203.0.113.9",
        "192.0.2.1",
        "192.168.100.1",
        "fe80::2",
        "fd00::1",
        "2001:db8:7:2::1",
        "2001:db8:ff::1",
    ]
)
WALKS = st.lists(st.lists(ADDRESSES, max_size=2, unique=True), max_size=12)
EVERYWHERE = st.sampled_from([HOME, MESH, BRIDGED, ROUTING, DIALLED, MANAGED, PUBLIC, KNOWN, SIX])
OUTWARDS = {s: place for place, s in enumerate("LHMAOB")}


@given(walk=WALKS, surroundings=EVERYWHERE)
def test_no_walk_comes_back_towards_the_laptop(walk, surroundings):
    """Whatever answers: one segment per hop, none nearer than the one before it."""
    found = hop_segments(walk, surroundings, SERVER)
    assert len(found) == len(walk)
    assert Segment.NONE not in found
    letters = {segment: letter for letter, segment in LETTERS.items()}
    places = [OUTWARDS[letters[s]] for s in found if s is not Segment.UNDETERMINED]
    assert places == sorted(places)
