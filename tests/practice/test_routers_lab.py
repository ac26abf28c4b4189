"""The way behind the practice home: silence, limits and narrow links, seen by bare sockets."""

import json
import sys
from pathlib import Path

import pytest

from agent.practice.line import LineSpec
from agent.practice.network import PracticeNetwork
from agent.practice.path import NarrowLink, PathSpec

WALK = Path(__file__).with_name("bare_walk.py")
SILENT, LIMITED = (4, 6), (7,)
PATHS = {
    "told": PathSpec(silent=SILENT, limited=LIMITED, narrow=NarrowLink(at=8, mtu_bytes=1400)),
    "swallowed": PathSpec(narrow=NarrowLink(at=2, mtu_bytes=1492, swallowed=True), clamp_mss=True),
}

pytestmark = [pytest.mark.lab, pytest.mark.once, pytest.mark.usefixtures("require_lab")]

BOTH = pytest.mark.parametrize("family", [4, 6])


def walked(network, *arguments, family=4):
    target = {4: network.addresses, 6: network.addresses_6}[family].server
    done = network.laptop.run(
        [sys.executable, str(WALK), target, *map(str, arguments)],
        timeout=30,
        plain=True,
    )
    assert not done.returncode, done.stderr
    return json.loads(done.stdout)


@pytest.fixture(scope="module")
def network():
    spec = LineSpec(seed=4, rtt_ms=2, hops=9, path=PATHS["told"], ipv6=True)
    with PracticeNetwork(spec) as network:
        yield network


@BOTH
def test_every_router_answers_but_the_silent_ones(network, family):
    found = walked(network, "walk", 12, family=family)
    assert tuple(found["walk"]) == network.ways(family)
    assert len(network.ways(family)) == 12
    assert [at for at, who in enumerate(found["walk"], 1) if who is None] == list(SILENT)


@BOTH
def test_a_limited_router_answers_the_first_of_a_row(network, family):
    # One a second, without a store: of five probes in a row one or two are answered.
    answered = walked(network, "row", *LIMITED, 5, family=family)["answered"]
    assert 1 <= answered <= 2
    assert walked(network, "row", 5, 5, family=family)["answered"] == 5


@BOTH
def test_the_router_before_a_narrow_link_names_its_size(network, family):
    found = walked(network, "sizes", 1400, 1401, family=family)
    assert found["sizes"] == {"1400": None, "1401": [network.ways(family)[6], 1400]}


def test_tcp_agrees_on_the_segments_of_an_ordinary_port(network):
    # 1500 octets less 20 of IPv4, 20 of TCP, 12 of time stamps (RFC 7323 §3.2).
    assert walked(network, "segment", network.addresses.sites[0].address)["segment"] == 1448


def test_what_is_too_large_is_lost_without_a_word_but_clamped_segments_fit():
    spec = LineSpec(seed=5, rtt_ms=2, path=PATHS["swallowed"], ipv6=True)
    with PracticeNetwork(spec) as network:
        found = walked(network, "sizes", 1492, 1493)
        found_6 = walked(network, "sizes", 1492, 1493, family=6)
        clamped = walked(network, "segment", network.addresses.sites[0].address)
    assert found["sizes"] == found_6["sizes"] == {"1492": None, "1493": None}
    # RFC 2516 §7: 1492 octets behind PPPoE; less 52 of headers as above.
    assert clamped["segment"] == 1440
