"""Addresses as one text per host, and what counts as one client."""

import pytest

from agent.server.peer import Peer, client_of, plain_address

# RFC 4291 §2.5.5.2: ::ffff:0:0/96 holds IPv4 addresses; RFC 4007 §11: the zone follows a "%".
PLAIN = [
    ("203.0.113.9", "203.0.113.9"),
    ("::ffff:203.0.113.9", "203.0.113.9"),
    ("::ffff:cb00:7109", "203.0.113.9"),
    ("2001:DB8::0:1", "2001:db8::1"),
    ("fe80::1%eth0", "fe80::1"),
]


@pytest.mark.parametrize(("host", "plain"), PLAIN)
def test_one_host_has_one_text(host, plain):
    assert plain_address(host) == plain


def test_a_client_is_an_ipv4_address_or_an_ipv6_prefix_of_64_bits():
    assert client_of("203.0.113.9") != client_of("203.0.113.10")
    assert client_of("2001:db8:0:1::5") == client_of("2001:db8:0:1:ffff::9")
    assert client_of("2001:db8:0:1::5") != client_of("2001:db8:0:2::5")


def test_a_peer_is_read_from_either_kind_of_socket_address():
    four = Peer.of(("203.0.113.9", 4000))
    six = Peer.of(("::ffff:203.0.113.9", 4000, 0, 0))
    assert four == six
