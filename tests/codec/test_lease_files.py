"""Lease files: the documented forms, and anything at all."""

from datetime import UTC, datetime

import pytest
from hypothesis import given
from hypothesis import strategies as st

from agent.codec import dhcp
from agent.codec.dhcp_options import pack_addresses, pack_seconds
from agent.codec.lease_files import dhclient_leases, keyed_lease, message_lease, nameservers
from agent.errors import MalformedMessage

# The form of dhclient.leases(5): statements in braces, dates in UTC with the weekday first.
DHCLIENT = """
default-duid "\\000\\001";
lease {
  interface "eth0";
  fixed-address 192.0.2.20;
  option dhcp-lease-time 600;
  expire 1 2026/03/02 08:00:00;
}
lease {
  interface "eth0";
  fixed-address 192.0.2.30;
  server-name "a } lease { \\" ; trap";
  option subnet-mask 255.255.255.0;
  option routers 192.0.2.1;
  option dhcp-lease-time 86400;
  option dhcp-message-type 5;
  option domain-name-servers 192.0.2.53,198.51.100.53;
  option dhcp-server-identifier 192.0.2.1;
  option dhcp-renewal-time 43200;
  option dhcp-rebinding-time 75600;
  option domain-name "tern.example";
  renew 1 2026/03/02 21:00:00;
  rebind 2 2026/03/03 06:00:00;
  expire 2 2026/03/03 09:00:00;
}
"""

# Keys as systemd-networkd writes them to its private run-time file (from memory).
NETWORKD = """# This is private data. Do not parse.
ADDRESS=192.0.2.30
NETMASK=255.255.255.0
ROUTER=192.0.2.1
SERVER_ADDRESS=192.0.2.1
T1=43200
T2=75600
LIFETIME=86400
DNS=192.0.2.53 198.51.100.53
DOMAINNAME=tern.example
"""


def known(lease):
    return (
        lease.address,
        lease.prefix,
        lease.routers,
        lease.dns,
        lease.server_id,
        (lease.lease_s, lease.t1_s, lease.t2_s),
    )


LEASE = (
    "192.0.2.30",
    24,
    ("192.0.2.1",),
    ("192.0.2.53", "198.51.100.53"),
    "192.0.2.1",
    (86400, 43200, 75600),
)


def test_dhclient():
    old, new = dhclient_leases(DHCLIENT)
    assert (old.address, old.lease_s, old.dns) == ("192.0.2.20", 600, ())
    assert known(new) == LEASE
    assert new.interface == "eth0"
    assert new.expires == datetime(2026, 3, 3, 9, tzinfo=UTC)


@pytest.mark.parametrize(
    ("stamp", "expected"),
    [
        ("epoch 1772528400", datetime(2026, 3, 3, 9, tzinfo=UTC)),
        ("never", None),
        ("2 2026/13/03 09:00:00", None),
        ("epoch 99999999999999999999", None),
        ("", None),
    ],
)
def test_dhclient_dates(stamp, expected):
    (lease,) = dhclient_leases(f"lease {{ fixed-address 192.0.2.30; expire {stamp}; }}")
    assert lease.expires == expected


def test_networkd():
    assert known(keyed_lease(NETWORKD)) == LEASE
    assert keyed_lease("# nothing yet\n") is None


def test_a_kept_message():
    asked = dhcp.discover(xid=1, hardware_address=bytes(6))
    options = (
        (1, pack_addresses("255.255.255.0")),
        (3, pack_addresses("192.0.2.1")),
        (6, pack_addresses("192.0.2.53", "198.51.100.53")),
        (51, pack_seconds(86400)),
        (58, pack_seconds(43200)),
        (59, pack_seconds(75600)),
    )
    ack = dhcp.reply(
        asked, dhcp.MessageType.ACK, server_id="192.0.2.1", address="192.0.2.30", options=options
    )
    assert known(message_lease(dhcp.encode(ack))) == LEASE


@pytest.mark.parametrize(
    "text",
    [
        "lease { fixed-address 192.0.2.300; }",
        "lease { option routers 192.0.2.1; }",
        "lease {",
        "lease { fixed-address 192.0.2.1",
    ],
)
def test_leases_without_an_address_are_left_out(text):
    assert dhclient_leases(text) == ()


@pytest.mark.parametrize(
    ("field", "value"),
    [("lease_s", "-5"), ("lease_s", "9" * 30), ("lease_s", "\u0661"), ("prefix", "255.0.255.0")],
)
def test_odd_values_are_not_believed(field, value):
    name = {"lease_s": "dhcp-lease-time", "prefix": "subnet-mask"}[field]
    (lease,) = dhclient_leases(f"lease {{ fixed-address 192.0.2.1; option {name} {value}; }}")
    assert getattr(lease, field) is None


def test_nameservers():
    text = "# comment\nsearch tern.example\nnameserver 192.0.2.53\nnameserver fe80::1%eth0\n"
    assert nameservers(text + "nameserver 192.0.2.53\nnameserver\n") == (
        "192.0.2.53",
        "fe80::1%eth0",
    )


pieces = st.sampled_from(
    ['"', "\\", "{", "}", ";", "\n", " ", "lease {", "fixed-address ", "192.0.2.1", "option "]
)


@given(st.one_of(st.text(max_size=300), st.lists(pieces, max_size=80).map("".join)))
def test_any_text_is_leases_or_none(text):
    for lease in dhclient_leases(text):
        assert lease.address.count(".") == 3
    keyed_lease(text)
    assert len(nameservers(text)) <= 16


@given(st.binary(max_size=400))
def test_any_bytes_are_a_message_or_malformed(data):
    try:
        message_lease(data)
    except MalformedMessage:
        return


def test_hostile_texts_take_no_longer_than_their_length():
    # Unfinished quotes and braces in a whole file's worth of text: the patterns must not retry.
    text = 'lease { option x "' * 14_000
    assert dhclient_leases(text) == ()
