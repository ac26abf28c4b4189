"""A message as macOS prints it (form from memory; ipconfig(8) warns that it may change)."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from agent.codec.macos_lease import packet_lease

PACKET = """op = BOOTREPLY
htype = 1
flags = 0
hlen = 6
hops = 0
xid = 0x5a5a0001
secs = 0
ciaddr = 0.0.0.0
yiaddr = 192.0.2.44
siaddr = 192.0.2.1
giaddr = 0.0.0.0
chaddr = 2:0:5e:10:0:1
sname =
file =
options:
Options count is 9
dhcp_message_type (uint8): ACK 0x5
server_identifier (ip): 192.0.2.1
lease_time (uint32): 0x15180
renewal_t1_time_value (uint32): 0xa8c0
rebinding_t2_time_value (uint32): 0x12750
subnet_mask (ip): 255.255.255.0
router (ip_mult): {192.0.2.1}
domain_name_server (ip_mult): {192.0.2.53, 198.51.100.53}
domain_name (string): tern.example
end (none):
"""


def test_a_printed_message():
    """Times: option 51 of 86400 s, 58 and 59 of 43200 and 75600 (RFC 2132 §9.2, §9.11, §9.12)."""
    lease = packet_lease(PACKET)
    assert (lease.address, lease.prefix, lease.server_id) == ("192.0.2.44", 24, "192.0.2.1")
    assert (lease.lease_s, lease.t1_s, lease.t2_s) == (86_400, 43_200, 75_600)
    assert (lease.routers, lease.dns) == (("192.0.2.1",), ("192.0.2.53", "198.51.100.53"))
    assert (lease.whole, lease.origin, lease.expires) == (True, "dhcp", None)


@pytest.mark.parametrize(
    ("old", "new", "field", "value"),
    [
        ("0x15180", "86400", "lease_s", None),
        ("0x15180", "0x115180aaaa", "lease_s", None),
        ("{192.0.2.1}", "{}", "routers", ()),
        ("255.255.255.0", "255.0.255.0", "prefix", None),
        ("server_identifier", "server", "whole", False),
    ],
)
def test_what_is_not_there_stays_unknown(old, new, field, value):
    assert getattr(packet_lease(PACKET.replace(old, new)), field) == value


@pytest.mark.parametrize("text", ["", "yiaddr = 0.0.0.0", "yiaddr: 192.0.2.44", "yiaddr = x"])
def test_no_message(text):
    assert packet_lease(text) is None


@given(st.text(), st.integers(0, len(PACKET)))
def test_any_text_is_a_lease_or_none(junk, cut):
    for text in (junk, PACKET[:cut] + junk + PACKET[cut:]):
        found = packet_lease(text)
        assert found is None or found.address.count(".") == 3
