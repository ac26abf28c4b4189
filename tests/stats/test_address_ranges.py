"""Whose an address can be, at the edges of the ranges that the standards set aside."""

import pytest

from agent.stats.address_ranges import PRIVATE, SHARED, TUNNEL_ENDS, of_a_home, within


@pytest.mark.parametrize(
    ("address", "private"),
    [
        ("10.0.0.1", True),
        ("172.15.255.255", False),
        ("172.16.0.0", True),
        ("172.31.255.255", True),
        ("172.32.0.0", False),
        ("192.168.255.255", True),
        ("192.169.0.0", False),
        ("100.64.0.1", False),
        ("no address", False),
    ],
)
def test_private_addresses_are_those_of_the_standard(address, private):
    """RFC 1918 §3."""
    assert within(address, PRIVATE) is private


def test_another_family_lies_in_no_network():
    assert not within("2001:db8::1", ["192.0.2.0/24"])
    assert within("2001:db8::1", ["192.0.2.0/24", "2001:db8::/32"])


@pytest.mark.parametrize(
    ("address", "home"),
    [
        ("192.168.1.1", True),
        ("fc00::", True),
        ("fdff:ffff:ffff:ffff:ffff:ffff:ffff:ffff", True),
        ("fe00::", False),
        ("fbff::1", False),
        ("198.17.255.255", False),
        ("198.18.0.0", True),
        ("198.19.255.255", True),
        ("198.20.0.0", False),
        ("100.64.0.1", False),
        ("", False),
    ],
)
def test_a_home_has_private_and_unique_local_addresses_or_those_for_tests(address, home):
    """RFC 1918 §3, RFC 4193 §3.1, RFC 2544 appendix C.2.2."""
    assert of_a_home(address) is home


@pytest.mark.parametrize(
    ("address", "networks"),
    [
        ("100.63.255.255", ()),
        ("100.64.0.0", (SHARED,)),
        ("100.127.255.255", (SHARED,)),
        ("100.128.0.0", ()),
        ("191.255.255.255", ()),
        ("192.0.0.0", (TUNNEL_ENDS,)),
        ("192.0.0.7", (TUNNEL_ENDS,)),
        ("192.0.0.8", ()),
    ],
)
def test_operators_ranges_end_where_the_standards_end_them(address, networks):
    """RFC 6598 §7, RFC 6333 §5.7."""
    assert tuple(one for one in (SHARED, TUNNEL_ENDS) if within(address, (one,))) == networks


def test_a_prefix_may_be_written_with_the_address_of_a_host():
    assert within("192.0.2.9", ["192.0.2.77/24"])
