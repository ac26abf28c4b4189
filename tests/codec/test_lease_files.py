"""Lease files: the documented forms, and anything at all."""

from datetime import UTC, datetime

import pytest
from hypothesis import given
from hypothesis import strategies as st

from agent.codec import dhcp
from agent.codec.dhcp_options import pack_addresses, pack_seconds
from agent.codec.lease_files import (
    dhclient_leases,
    keyed_lease,
    message_lease,
    nameservers,
    span_of,
)
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


@pytest.mark.parametrize(
    ("text", "seconds"),
    [
        # Units of systemd.time(7); networkd writes spans with them since systemd 253.
        ("3600", 3600),
        ("5min", 300),
        ("8min 45s", 525),
        ("1d", 86_400),
        ("1w 2d 3h", 604_800 + 2 * 86_400 + 3 * 3600),
        ("1month", 2_629_800),
        ("1y", 31_557_600),
        ("1.5s", 2),
        ("infinity", 0xFFFF_FFFF),  # RFC 2131 §3.3
        ("5min45s", None),
        ("5 min", None),
        ("5parsecs", None),
        ("-5s", None),
        ("9" * 61 + "s", None),
        ("", None),
        (None, None),
    ],
)
def test_spans_of_time(text, seconds):
    assert span_of(text) == seconds


@given(st.integers(1, 10**9))
def test_a_span_written_in_units_is_read_back(seconds):
    units = (("y", 31_557_600), ("month", 2_629_800), ("w", 604_800), ("d", 86_400))
    left, parts = seconds, []
    for unit, length in (*units, ("h", 3600), ("min", 60), ("s", 1)):
        count, left = divmod(left, length)
        parts += [f"{count}{unit}"] if count else []
    assert span_of(" ".join(parts)) == span_of(str(seconds)) == seconds


PORTAL = "https://activation.ternbay.example/captive"


@pytest.mark.parametrize("name", ["default-url", "v4-captive-portal"])
def test_a_captive_portal_named_in_a_dhclient_lease(name):
    """Option 114 (RFC 8910 §2.1); what dhclient calls it is from memory."""
    text = f'lease {{ fixed-address 192.0.2.20; option {name} "{PORTAL}"; }}'
    assert dhclient_leases(text)[0].captive_api == PORTAL


@pytest.mark.parametrize(
    ("value", "expected"), [(PORTAL, PORTAL), ("", None), ("x" * 400, None), ("a\x1bb", None)]
)
def test_a_captive_portal_named_in_a_keyed_lease(value, expected):
    """The key is networkd's, from memory."""
    assert keyed_lease(f"ADDRESS=192.0.2.20\nCAPTIVE_PORTAL={value}\n").captive_api == expected


def test_only_a_whole_lease_says_what_the_server_did_not_name():
    (short,) = dhclient_leases("lease { fixed-address 192.0.2.30; }")
    assert (short.whole, keyed_lease("ADDRESS=192.0.2.30\n").whole) == (False, False)
    assert (dhclient_leases(DHCLIENT)[1].whole, keyed_lease(NETWORKD).whole) == (True, True)


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
