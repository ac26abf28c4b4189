"""Addresses inside addresses against the published tables of RFC 6052 and RFC 7050."""

from ipaddress import IPv4Address, IPv6Address, IPv6Network

import pytest
from hypothesis import given
from hypothesis import strategies as st

from agent.codec.translation import PREFIX_BITS, WELL_KNOWN, embedded, extracted, prefix_told

# RFC 6052 §2.4, tables 2 and 3: 192.0.2.33 in prefixes of every length.
PUBLISHED = [
    ("2001:db8::/32", "2001:db8:c000:221::"),
    ("2001:db8:100::/40", "2001:db8:1c0:2:21::"),
    ("2001:db8:122::/48", "2001:db8:122:c000:2:2100::"),
    ("2001:db8:122:300::/56", "2001:db8:122:3c0:0:221::"),
    ("2001:db8:122:344::/64", "2001:db8:122:344:c0:2:2100::"),
    ("2001:db8:122:344::/96", "2001:db8:122:344::192.0.2.33"),
    ("64:ff9b::/96", "64:ff9b::192.0.2.33"),
]


@pytest.mark.parametrize(("prefix", "whole"), PUBLISHED)
def test_an_address_stands_where_the_published_table_has_it(prefix, whole):
    inside = IPv4Address("192.0.2.33")
    assert embedded(IPv6Network(prefix), inside) == IPv6Address(whole)
    assert extracted(IPv6Network(prefix), IPv6Address(whole)) == inside


@given(st.sampled_from(PREFIX_BITS), st.ip_addresses(v=4), st.ip_addresses(v=6))
def test_what_is_put_in_comes_out(bits, address, anywhere):
    prefix = IPv6Network((anywhere, bits), strict=False)
    whole = embedded(prefix, address)
    assert whole in prefix
    assert extracted(prefix, whole) == address


@pytest.mark.parametrize("bits", [0, 48 + 1, 72, 128])
def test_a_prefix_of_another_length_is_none(bits):
    with pytest.raises(ValueError, match="no prefix"):
        embedded(IPv6Network(f"::/{bits}"), IPv4Address("192.0.2.33"))


@pytest.mark.parametrize("last", ["192.0.0.170", "192.0.0.171"])
def test_the_well_known_prefix_is_found_by_the_name_that_has_only_ipv4(last):
    """RFC 7050 §2.2 has the two addresses, RFC 6052 §2.1 the prefix."""
    assert prefix_told([f"64:ff9b::{last}"]) == WELL_KNOWN


@pytest.mark.parametrize("prefix", [prefix for prefix, _ in PUBLISHED])
def test_a_prefix_of_any_length_is_found(prefix):
    whole = embedded(IPv6Network(prefix), IPv4Address("192.0.0.170"))
    assert prefix_told([str(whole)]) == IPv6Network(prefix)


@pytest.mark.parametrize(
    "answers", [[], ["2001:db8::1"], ["no address"], ["address:3"], ["192.0.0.170"], ["::"]]
)
def test_other_answers_tell_no_prefix(answers):
    assert prefix_told(answers) is None


@given(st.lists(st.ip_addresses(v=6).map(str) | st.text(max_size=12), max_size=4))
def test_whatever_a_resolver_answers_is_a_prefix_or_none(answers):
    found = prefix_told(answers)
    assert found is None or found.prefixlen in PREFIX_BITS
