"""What network managers tell of leases: as real ones said it, later forms, and anything at all."""

import json
from datetime import UTC, datetime, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from agent.codec.told_leases import described_leases, option_lease, typed_in

NOW = datetime(2026, 3, 2, 9, tzinfo=UTC)
BOOTED_S = 26_185.0

# As NetworkManager 1.42.4 answered on a private bus for a lease of dnsmasq; requested_* left out.
OPTIONS = {
    "broadcast_address": "192.0.2.255",
    "dhcp_client_identifier": "01:02:00:5e:10:00:01",
    "dhcp_lease_time": "3600",
    "dhcp_server_identifier": "192.0.2.1",
    "domain_name_servers": "192.0.2.53 198.51.100.53",
    "expiry": "1772445600",
    "ip_address": "192.0.2.39",
    "next_server": "192.0.2.1",
    "requested_routers": "1",
    "routers": "192.0.2.1",
    "subnet_mask": "255.255.255.0",
}

# As NetworkManager 1.42.4 showed the addresses of a link (IP4Config), shortened.
IP4_CONFIG = {
    "AddressData": [{"address": "192.0.2.39", "prefix": 24}],
    "Gateway": "192.0.2.1",
    "NameserverData": [{"address": "192.0.2.53"}],
}


def octets(text):
    return [int(part) for part in text.split(".")]


def described(source="DHCPv4", valid=(BOOTED_S + 3600) * 1e6, lease=None, key="ValidLifetimeUsec"):
    """A description as systemd-networkd 252 answered on a private bus, shortened.

    DHCPv4Client and the key ValidLifetimeUSec are those of systemd 256 (networkd-json.c).
    """
    provider = {"ConfigProvider": octets("192.0.2.1")} if source == "DHCPv4" else {}
    row = {"Family": 2, "Address": octets("192.0.2.38"), "PrefixLength": 24, "ConfigSource": source}
    way = {
        "Family": 2,
        "Destination": [0, 0, 0, 0],
        "DestinationPrefixLength": 0,
        "Gateway": octets("192.0.2.1"),
        "ConfigSource": source,
    }
    near = {**way, "Destination": octets("192.0.2.53"), "DestinationPrefixLength": 32}
    del near["Gateway"]
    return {
        "Index": 3,
        "Name": "n0",
        "DNS": [{"Family": 2, "Address": octets("192.0.2.53"), "ConfigSource": source}],
        "Addresses": [{**row, **provider, **({key: int(valid)} if valid else {})}],
        "Routes": [near, way],
        **({"DHCPv4Client": {"Lease": lease}} if lease else {}),
    }


def read(said, now=NOW, booted_s=BOOTED_S):
    return described_leases(json.dumps(said), now, booted_s)


def test_options_of_networkmanager():
    lease = option_lease(OPTIONS)
    assert (lease.address, lease.prefix, lease.routers) == ("192.0.2.39", 24, ("192.0.2.1",))
    assert lease.dns == ("192.0.2.53", "198.51.100.53")
    assert (lease.server_id, lease.lease_s, lease.origin) == ("192.0.2.1", 3600, "dhcp")
    assert lease.expires == datetime(2026, 3, 2, 10, tzinfo=UTC)
    assert (lease.t1_s, lease.t2_s) == (None, None), "NetworkManager does not tell them"


def test_timers_where_the_options_have_them():
    """Names after dhcp-options(5): dhcp-renewal-time, dhcp-rebinding-time."""
    timers = {"dhcp_renewal_time": "1800", "dhcp_rebinding_time": "3150"}
    lease = option_lease({**OPTIONS, **timers})
    assert (lease.t1_s, lease.t2_s) == (1800, 3150)


@pytest.mark.parametrize(
    ("options", "whole"),
    [({}, True), ({"domain_name_servers": ""}, True), ({"dhcp_server_identifier": None}, False)],
)
def test_only_a_lease_told_whole_lacks_what_it_does_not_name(options, whole):
    assert option_lease({**OPTIONS, **options}).whole is whole


@pytest.mark.parametrize("options", [{}, {"ip_address": 7}, {"ip_address": "fe80::1"}])
def test_options_without_an_address_are_no_lease(options):
    assert option_lease(options) is None


def test_addresses_typed_in():
    (lease,) = typed_in(IP4_CONFIG)
    assert (lease.address, lease.origin, lease.prefix) == ("192.0.2.39", "static", 24)
    assert (lease.routers, lease.dns, lease.lease_s) == (("192.0.2.1",), ("192.0.2.53",), None)
    assert list(typed_in({"AddressData": [{"address": "x"}, 7], "Gateway": 1})) == []


def test_a_description_of_networkd_before_256():
    (lease,) = read(described())
    assert (lease.address, lease.prefix, lease.server_id) == ("192.0.2.38", 24, "192.0.2.1")
    assert (lease.routers, lease.dns) == (("192.0.2.1",), ("192.0.2.53",))
    assert lease.expires == NOW + timedelta(hours=1)
    assert (lease.lease_s, lease.t1_s, lease.obtained) == (None, None, None)


def test_a_description_of_networkd_since_256():
    """Its times are absolute, in microseconds of the clock that starts with the system."""
    taken = int((BOOTED_S - 600) * 1e6)
    lease = {
        "LeaseTimestampUSec": taken,
        "Timeout1USec": taken + 1_800_000_000,
        "Timeout2USec": taken + 3_150_000_000,
    }
    valid = (BOOTED_S + 3000) * 1e6
    (found,) = read(described(valid=valid, lease=lease, key="ValidLifetimeUSec"))
    assert (found.lease_s, found.t1_s, found.t2_s) == (3600, 1800, 3150)
    assert found.obtained == NOW - timedelta(minutes=10)
    assert found.expires == NOW + timedelta(minutes=50)


def test_a_description_of_an_address_typed_in():
    (found,) = read(described(source="static", valid=None))
    assert (found.origin, found.server_id, found.expires) == ("static", None, None)


@pytest.mark.parametrize(
    "change",
    [
        {"ConfigSource": "foreign"},
        {"Family": 10},
        {"Address": [1, 2]},
        {"Address": [300, 0, 0, 1]},
        {"Address": "192.0.2.38"},
    ],
)
def test_what_networkd_did_not_set_is_not_told(change):
    said = described()
    said["Addresses"][0] |= change
    assert read(said) == ()


@pytest.mark.parametrize("text", ["", "[]", "7", "{", "[" * 100_000, '{"Addresses": {"a": 1}}'])
def test_what_is_no_description(text):
    assert described_leases(text, NOW, 0.0) == ()


@given(
    taken_s=st.integers(1, 10**9),
    t1_s=st.integers(0, 10**8),
    t2_s=st.integers(0, 10**8),
    lease_s=st.integers(0, 10**8),
    since_s=st.integers(0, 10**7),
)
def test_lengths_do_not_depend_on_when_one_looks(taken_s, t1_s, t2_s, lease_s, since_s):
    lease = {
        "LeaseTimestampUSec": taken_s * 10**6,
        "Timeout1USec": (taken_s + t1_s) * 10**6,
        "Timeout2USec": (taken_s + t2_s) * 10**6,
    }
    said = described(valid=(taken_s + lease_s) * 10**6, lease=lease)
    (found,) = read(said, booted_s=taken_s + since_s)
    assert (found.t1_s, found.t2_s, found.lease_s) == (t1_s, t2_s, lease_s)
    assert found.obtained == NOW - timedelta(seconds=since_s)
    assert found.expires - found.obtained == timedelta(seconds=lease_s)


JSON = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats() | st.text(max_size=5),
    lambda inner: st.lists(inner, max_size=4) | st.dictionaries(st.text(max_size=5), inner),
    max_leaves=12,
)
KEYS = ["Family", "Address", "ConfigSource", "ConfigProvider", "Gateway", "PrefixLength"]
KEYS += ["ValidLifetimeUSec", "DestinationPrefixLength", "prefix", "address"]
ROWS = st.lists(
    st.dictionaries(
        st.sampled_from(
            [
                "Family",
                "Address",
                "ConfigSource",
                "ConfigProvider",
                "Gateway",
                "PrefixLength",
                "prefix",
                "address",
                "ValidLifetimeUSec",
                "DestinationPrefixLength",
            ]
        ),
        JSON | st.just(2) | st.just([192, 0, 2, 1]) | st.sampled_from(["DHCPv4", "192.0.2.1"]),
    ),
    max_size=3,
)


@given(
    st.fixed_dictionaries(
        {"Addresses": ROWS | JSON, "Routes": ROWS, "DNS": ROWS, "DHCPv4Client": JSON}
    ),
    st.dictionaries(st.sampled_from([*OPTIONS, *IP4_CONFIG]), JSON | ROWS),
)
def test_anything_is_leases_or_none(said, options):
    for lease in (*read(said), *typed_in(options), option_lease(options)):
        assert lease is None or lease.address.count(".") == 3
