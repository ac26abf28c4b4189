"""The values of an interface's key in Windows' registry, as the vendor documents them (memory).

REG_DWORD comes as a number, REG_SZ as a text, REG_MULTI_SZ as a list of texts (Python's winreg).
"""

from datetime import UTC, datetime

import pytest
from hypothesis import given
from hypothesis import strategies as st

from agent.codec.windows_lease import registered_address

OBTAINED = 1_795_640_400
"""2026-11-25 21:00:00 UTC (date -u -d @1795640400)."""

LEASED = {
    "EnableDHCP": 1,
    "DhcpIPAddress": "192.0.2.44",
    "DhcpSubnetMask": "255.255.255.0",
    "DhcpServer": "192.0.2.1",
    "Lease": 3600,
    "LeaseObtainedTime": OBTAINED,
    "T1": OBTAINED + 1800,
    "T2": OBTAINED + 3150,
    "LeaseTerminatesTime": OBTAINED + 3600,
    "DhcpDefaultGateway": ["192.0.2.1"],
    "DhcpNameServer": "198.51.100.53 198.51.100.54",
    "NameServer": "",
    "IPAddress": ["0.0.0.0"],
}
"""The renewal times are half and seven eighths of the lease (RFC 2131 §4.4.5)."""

BY_HAND = {
    "EnableDHCP": 0,
    "IPAddress": ["192.0.2.30"],
    "SubnetMask": ["255.255.255.0"],
    "DefaultGateway": ["192.0.2.1"],
    "NameServer": "198.51.100.53,198.51.100.54",
    "DhcpIPAddress": "192.0.2.99",
}


def test_a_lease_is_read_with_its_times():
    found = registered_address(LEASED)
    assert (found.addresses, found.dhcp, found.server_id) == (("192.0.2.44",), True, "192.0.2.1")
    assert (found.lease_s, found.t1_s, found.t2_s) == (3600, 1800, 3150)
    assert found.obtained == datetime(2026, 11, 25, 21, tzinfo=UTC)
    assert found.expires == datetime(2026, 11, 25, 22, tzinfo=UTC)
    assert found.gateways == ("192.0.2.1",)
    assert found.dns == ("198.51.100.53", "198.51.100.54")


def test_resolvers_set_by_hand_come_before_those_of_the_lease():
    assert registered_address({**LEASED, "NameServer": "203.0.113.53"}).dns == ("203.0.113.53",)


def test_an_address_set_by_hand_is_not_that_of_an_old_lease():
    found = registered_address(BY_HAND)
    assert (found.addresses, found.dhcp) == (("192.0.2.30",), False)
    assert (found.gateways, found.lease_s) == (("192.0.2.1",), None)
    assert found.dns == ("198.51.100.53", "198.51.100.54")


def test_a_lease_without_end_never_expires():
    found = registered_address({**LEASED, "Lease": 0xFFFFFFFF})
    assert (found.lease_s, found.expires) == (0xFFFFFFFF, None)


@pytest.mark.parametrize(
    ("change", "field"),
    [
        ({"T1": OBTAINED - 1}, "t1_s"),
        ({"T2": OBTAINED + 3601}, "t2_s"),
        ({"T1": "soon"}, "t1_s"),
        ({"Lease": None}, "lease_s"),
        ({"Lease": True}, "lease_s"),
        ({"Lease": 1 << 32}, "lease_s"),
        ({"LeaseObtainedTime": 0}, "obtained"),
        ({"DhcpServer": "255.255.255.255"}, "server_id"),
        ({"DhcpServer": b"\xc0\x00\x02\x01"}, "server_id"),
        ({"EnableDHCP": 7}, "dhcp"),
    ],
)
def test_what_cannot_be_is_not_told(change, field):
    assert getattr(registered_address({**LEASED, **change}), field) is None


ANY_VALUE = (
    st.none()
    | st.booleans()
    | st.integers()
    | st.text()
    | st.binary()
    | st.lists(st.text() | st.integers(), max_size=3)
)


@given(st.dictionaries(st.sampled_from(sorted(LEASED)), ANY_VALUE))
def test_any_values_are_read(values):
    found = registered_address(values)
    assert all(isinstance(one, str) for one in (*found.addresses, *found.gateways, *found.dns))
