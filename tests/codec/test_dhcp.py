"""DHCPv4 against RFC 2131, 2132, 3396, 3442 and against a foreign codec (scapy)."""

import struct

import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from agent.codec import dhcp, dhcp_options
from agent.codec.dhcp import DhcpMessage, MessageType, Op
from agent.codec.dhcp_options import Option, Route
from agent.errors import MalformedMessage

MAC = bytes.fromhex("02005e100001")


def raw(options=b"\xff", *, op=2, hlen=6, sname=b"", file=b"", cookie="63825363"):
    """Build a message field by field, sizes from RFC 2131 §2 table 1."""
    return (
        struct.pack("!BBBBIHH", op, 1, hlen, 0, 0x3903F326, 0, 0x8000)
        + bytes(4)
        + bytes([192, 0, 2, 30])
        + bytes(8)
        + MAC.ljust(16, b"\0")
        + sname.ljust(64, b"\0")
        + file.ljust(128, b"\0")
        + bytes.fromhex(cookie)
        + options
    )


def test_layout_is_the_one_of_the_standard():
    # RFC 2131 §2 table 1: fixed part of 236 bytes; §3: cookie 99.130.83.99.
    data = dhcp.encode(dhcp.discover(xid=0x01020304, hardware_address=MAC))
    assert len(data) == 300  # RFC 1542 §2.1
    assert data[:12] == bytes([1, 1, 6, 0, 1, 2, 3, 4, 0, 0, 0x80, 0])
    assert data[28:34] == MAC
    assert data[236:243] == bytes([99, 130, 83, 99, 53, 1, 1])


def test_discover_asks_classless_routes_before_routers():
    # RFC 3442, DHCP client behaviour: 121 precedes 3.
    asked = dhcp.discover(xid=1, hardware_address=MAC).option(Option.PARAMETER_LIST)
    assert asked is not None
    assert asked.index(121) < asked.index(3)


@pytest.mark.parametrize(
    ("code", "value", "wire"),
    [
        # RFC 2132 §9.2, §9.11, §9.12, §9.10: encodings derived from the option figures.
        (51, dhcp_options.pack_seconds(86400), "330400015180"),
        (58, dhcp_options.pack_seconds(43200), "3a040000a8c0"),
        (59, dhcp_options.pack_seconds(75600), "3b0400012750"),
        (57, (1500).to_bytes(2, "big"), "390205dc"),
        # RFC 8925 §3.1.
        (108, dhcp_options.pack_seconds(1800), "6c0400000708"),
        # RFC 8910 §2: the URI that says "no portal".
        (
            114,
            b"urn:ietf:params:capport:unrestricted",
            "722475726e3a696574663a706172616d733a636170706f72743a756e72657374726963746564",
        ),
    ],
)
def test_options_are_coded_as_the_figures_show(code, value, wire):
    assert dhcp_options.encode_options(((code, value),)).hex() == wire + "ff"
    assert dhcp.decode(raw(bytes.fromhex(wire) + b"\xff")).option(code) == value


@pytest.mark.parametrize(
    ("network", "prefix", "wire"),
    [
        # The destination table of RFC 3442.
        ("0.0.0.0", 0, "00"),
        ("10.0.0.0", 8, "080a"),
        ("10.0.0.0", 24, "180a0000"),
        ("10.17.0.0", 16, "100a11"),
        ("10.27.129.0", 24, "180a1b81"),
        ("10.229.0.128", 25, "190ae50080"),
        ("10.198.122.47", 32, "200ac67a2f"),
    ],
)
def test_classless_destinations(network, prefix, wire):
    route = Route(network=network, prefix=prefix, router="192.0.2.1")
    value = bytes.fromhex(wire) + bytes([192, 0, 2, 1])
    assert dhcp_options.encode_routes([route]) == value
    assert dhcp_options.decode_routes(value) == (route,)


def test_classless_host_bits_are_cleared():
    # RFC 3442, DHCP client behaviour: 129.210.177.132 with width 25 is 129.210.177.128.
    value = bytes([25, 129, 210, 177, 132, 0, 0, 0, 0])
    assert dhcp_options.decode_routes(value) == (
        Route(network="129.210.177.128", prefix=25, router="0.0.0.0"),
    )


def test_classless_routes_replace_the_routers_option():
    # RFC 3442: option 3 is ignored where 121 is present; the option is derived in the same way.
    wire = bytes.fromhex("030409090909" + "790c100a110a000002000a000001" + "ff")
    message = dhcp.decode(raw(wire))
    assert message.routers == ("10.0.0.1",)
    assert message.routes[0] == Route(network="10.17.0.0", prefix=16, router="10.0.0.2")


def test_repeated_options_are_joined():
    # RFC 3396 §7; RFC 2131 §4.1 "the values are concatenated".
    message = dhcp.decode(raw(bytes.fromhex("0604c0000201" + "0604c0000202" + "ff")))
    assert message.dns == ("192.0.2.1", "192.0.2.2")


def test_long_values_are_split_and_joined_again():
    value = bytes(range(256)) * 2
    message = DhcpMessage(op=1, xid=7, hardware_address=MAC, options=((43, value),))
    wire = dhcp.encode(message)
    assert wire[240:242] == bytes([43, 255])
    assert dhcp.decode(wire).option(43) == value


@pytest.mark.parametrize(
    ("overload", "expected"),
    [
        (0, "192.0.2.1"),
        (1, "192.0.2.1 192.0.2.2"),
        (2, "192.0.2.1 192.0.2.3"),
        (3, "192.0.2.1 192.0.2.2 192.0.2.3"),
    ],
)
def test_overloaded_fields_follow_in_order(overload, expected):
    # RFC 2131 §4.1: options, then file, then sname; RFC 2132 §9.3: 1 file, 2 sname, 3 both.
    wire = bytes.fromhex("0604c0000201") + bytes([52, 1, overload, 255])
    message = dhcp.decode(
        raw(wire, file=bytes.fromhex("0604c0000202ff"), sname=bytes.fromhex("0604c0000203ff"))
    )
    assert message.dns == tuple(expected.split())
    assert bool(message.file) == (overload not in (1, 3))


@pytest.mark.parametrize(
    ("lease_s", "timers"),
    # RFC 2131 §4.4.5; 0xffffffff never ends (§3.3).
    [
        (3600, (1800, 3150)),
        (86400, (43200, 75600)),
        (604800, (302400, 529200)),
        (0xFFFFFFFF, None),
    ],
)
def test_default_timers(lease_s, timers):
    assert dhcp.default_timers(lease_s) == timers


@pytest.mark.parametrize(
    "data",
    [
        b"",
        raw()[:239],
        raw(cookie="63825364"),
        raw(op=3),
        raw(hlen=17),
        raw(bytes([51, 4, 0, 1])),
        raw(bytes([51])),
        raw(bytes([52, 1, 1, 255]), file=bytes([51, 200])),
    ],
    ids=["empty", "short", "cookie", "op", "hlen", "cut option", "no length", "cut in file"],
)
def test_broken_messages_are_malformed(data):
    with pytest.raises(MalformedMessage):
        dhcp.decode(data)


@pytest.mark.parametrize(
    ("code", "value"),
    [
        (1, "ffffff"),
        (3, ""),
        (3, "c00002"),
        (6, "c0000201c0"),
        (51, "0001"),
        (53, ""),
        (54, "c0000201ff"),
        (58, "00"),
        (108, "0708"),
        (121, "21"),
        (121, "18c00002"),
    ],
)
def test_one_bad_option_is_named_and_hides_no_other(code, value):
    part = bytes([code, len(value) // 2]) + bytes.fromhex(value)
    message = dhcp.decode(raw(part + bytes.fromhex("0f0161") + b"\xff"))
    assert dhcp_options.faulty_options(message.options) == (code,)
    assert message.option(15) == b"a"
    readings = (message.subnet_mask, message.lease_s, message.message_type, message.server_id)
    assert readings == (None, None, None, None)
    assert (message.routers, message.dns, message.routes, message.t1_s) == ((), (), (), None)


def test_a_missing_end_mark_is_tolerated():
    assert dhcp.decode(raw(bytes([53, 1, 2]))).message_type == MessageType.OFFER


def test_an_exchange_keeps_what_ties_it_together():
    # RFC 2131 §4.3.1 table 3 (xid, chaddr, flags, giaddr copied), §4.3.2 (SELECTING).
    asked = dhcp.discover(xid=99, hardware_address=MAC)
    offer = dhcp.reply(asked, MessageType.OFFER, server_id="192.0.2.1", address="192.0.2.30")
    taken = dhcp.request(offer)
    assert (offer.op, offer.xid, offer.hardware_address) == (Op.REPLY, 99, MAC)
    assert offer.broadcast
    assert (taken.xid, taken.message_type) == (99, MessageType.REQUEST)
    assert taken.option(Option.REQUESTED_ADDRESS) == bytes([192, 0, 2, 30])
    assert taken.server_id == "192.0.2.1"
    assert taken.ciaddr == "0.0.0.0"


def test_a_foreign_codec_reads_what_we_write():
    scapy_dhcp = pytest.importorskip("scapy.layers.dhcp")
    extra = ((60, b"doorstep"), (61, b"\x01" + MAC))
    wire = dhcp.encode(dhcp.discover(xid=0xDEADBEEF, hardware_address=MAC, extra=extra))
    seen = scapy_dhcp.BOOTP(wire)
    options = dict(o for o in seen[scapy_dhcp.DHCP].options if isinstance(o, tuple))
    assert (seen.op, seen.xid, seen.chaddr[:6], int(seen.flags)) == (1, 0xDEADBEEF, MAC, 0x8000)
    assert options["message-type"] == 1
    assert options["vendor_class_id"] == b"doorstep"
    assert options["client_id"] == b"\x01" + MAC


def test_we_read_what_a_foreign_codec_writes():
    scapy_dhcp = pytest.importorskip("scapy.layers.dhcp")
    wire = bytes(
        scapy_dhcp.BOOTP(op=2, xid=5, yiaddr="192.0.2.30", chaddr=MAC, flags="B")
        / scapy_dhcp.DHCP(
            options=[
                ("message-type", "offer"),
                ("server_id", "192.0.2.1"),
                ("lease_time", 3600),
                ("renewal_time", 1800),
                ("rebinding_time", 3150),
                ("subnet_mask", "255.255.255.0"),
                ("router", "192.0.2.1"),
                ("name_server", "192.0.2.53", "198.51.100.53"),
                "end",
            ]
        )
    )
    message = dhcp.decode(wire)
    assert (message.xid, message.yiaddr, message.hardware_address) == (5, "192.0.2.30", MAC)
    assert (message.message_type, message.server_id) == (MessageType.OFFER, "192.0.2.1")
    assert (message.lease_s, message.t1_s, message.t2_s) == (3600, 1800, 3150)
    assert (message.subnet_mask, message.routers) == ("255.255.255.0", ("192.0.2.1",))


def test_resolvers_of_option_6():
    message = dhcp.decode(raw(bytes.fromhex("0608c0000235c6336435ff")))
    assert message.dns == ("192.0.2.53", "198.51.100.53")


option_lists = st.dictionaries(
    st.integers(1, 254).filter(lambda code: code != Option.OVERLOAD), st.binary(max_size=300)
).map(lambda found: tuple(found.items()))
ipv4 = st.ip_addresses(v=4).map(str)
no_trailing_zero = st.binary(max_size=60).map(lambda data: data.rstrip(b"\0"))


@given(
    st.builds(
        DhcpMessage,
        op=st.sampled_from(list(Op)),
        xid=st.integers(0, 2**32 - 1),
        hardware_address=st.binary(max_size=16),
        hardware_type=st.integers(0, 255),
        hops=st.integers(0, 255),
        secs=st.integers(0, 65535),
        flags=st.integers(0, 65535),
        ciaddr=ipv4,
        yiaddr=ipv4,
        siaddr=ipv4,
        giaddr=ipv4,
        sname=no_trailing_zero,
        file=no_trailing_zero,
        options=option_lists,
    )
)
def test_every_message_survives_the_wire(message):
    assert dhcp.decode(dhcp.encode(message)) == message


@given(st.one_of(st.binary(max_size=600), st.binary(max_size=400).map(raw)))
@example(raw(bytes([52, 1, 3, 255]), file=b"\x34\x01\x03", sname=b"\x34\x01\x03"))
def test_any_bytes_are_a_message_or_malformed(data):
    try:
        message = dhcp.decode(data)
    except MalformedMessage:
        return
    assert dhcp.decode(dhcp.encode(message)).hardware_address == message.hardware_address
    dhcp_options.faulty_options(message.options)
    assert isinstance(message.routers, tuple)


@given(st.binary(max_size=120))
def test_any_bytes_are_routes_or_malformed(value):
    try:
        routes = dhcp_options.decode_routes(value)
    except MalformedMessage:
        return
    assert dhcp_options.decode_routes(dhcp_options.encode_routes(routes)) == routes
