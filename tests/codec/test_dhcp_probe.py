"""What the lease probe asks and reads, against RFC 2131, 2132, 3442, 8910, 8925 and scapy."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from agent.codec import dhcp, dhcp_options
from agent.codec.dhcp import MessageType
from agent.codec.dhcp_options import Option, Route, encode_routes, faulty_options

MAC = bytes.fromhex("02005e100001")
API = "https://portal.ternbay.example/api"


def offered(*options):
    asked = dhcp.discover(xid=9, hardware_address=MAC)
    return dhcp.reply(asked, MessageType.OFFER, server_id="192.0.2.1", options=options)


def test_the_probe_asks_for_classless_routes_before_all_others():
    """RFC 3442, client behaviour: 121 precedes 3 and 33. RFC 8925 §3.2: 108 is asked for."""
    asked = dhcp.PROBE_PARAMETERS
    assert asked.index(121) < min(asked.index(3), asked.index(33))
    assert {108, 114, 26} <= set(asked)
    assert len(set(asked)) == len(asked)


def test_the_question_who_is_there_cannot_be_granted():
    """RFC 2131 §4.3.2, INIT-REBOOT: no server identifier, ciaddr zero, requested address given."""
    from scapy.layers.dhcp import BOOTP

    message = dhcp.presence(xid=7, hardware_address=MAC)
    whole = BOOTP(dhcp.encode(message))
    options = {one[0]: one[1] for one in whole["DHCP options"].options if isinstance(one, tuple)}
    assert options == {"message-type": 3, "requested_addr": dhcp.UNGRANTABLE}
    assert (whole.ciaddr, whole.chaddr[:6], whole.xid) == ("0.0.0.0", MAC, 7)
    # RFC 1112 §4: class E, 240.0.0.0 to 255.255.255.255, is nobody's.
    assert int(dhcp.UNGRANTABLE.split(".")[0]) >= 240


@pytest.mark.parametrize(
    ("value", "uri"),
    [
        (API.encode(), API),
        # RFC 8910 §2: the URI that says "no portal", 36 octets.
        (b"urn:ietf:params:capport:unrestricted", "urn:ietf:params:capport:unrestricted"),
        # RFC 8910 §2.1: "not null terminated"; one that is, is read all the same (RFC 2132 §2).
        (API.encode() + b"\0", API),
        (b"portal.ternbay.example/api", None),
        (b"https:", None),
        (b"1https://portal.example/", None),
        (b"https://portal.example/\x1b[2J", None),
        (b"https://portal example/", None),
        ("https://pörtal.example/".encode(), None),
        (b"", None),
        (b"http://x/" + b"a" * 600, None),
    ],
)
def test_the_portal_is_named_by_a_uri_or_not_at_all(value, uri):
    message = offered((Option.CAPTIVE_PORTAL, value))
    assert message.captive_api == uri
    assert (Option.CAPTIVE_PORTAL in faulty_options(message.options)) is (uri is None)


def test_the_old_code_of_the_portal_is_not_read():
    """RFC 8910 §1: 114 replaced 160."""
    assert offered((160, API.encode())).captive_api is None


@pytest.mark.parametrize(("value_s", "wait_s"), [(0, 300), (60, 300), (300, 300), (1800, 1800)])
def test_the_wait_for_ipv6_only_has_a_least(value_s, wait_s):
    """RFC 8925 §3.4: MIN_V6ONLY_WAIT 300 s."""
    assert offered((Option.IPV6_ONLY_S, value_s.to_bytes(4))).ipv6_only_s == wait_s


@pytest.mark.parametrize("length", [0, 3, 5])
def test_another_length_of_option_108_is_ignored(length):
    """RFC 8925 §3.4: the client ignores it unless its length is four."""
    assert offered((Option.IPV6_ONLY_S, bytes(length))).ipv6_only_s is None


def test_a_refusal_is_read_as_a_foreign_codec_writes_it():
    from scapy.layers.dhcp import BOOTP, DHCP

    said = [
        ("message-type", "nak"),
        ("server_id", "192.0.2.1"),
        ("error_message", "wrong network"),
        "end",
    ]
    message = dhcp.decode(bytes(BOOTP(op=2, xid=7, chaddr=MAC) / DHCP(options=said)))
    assert message.message_type == MessageType.NAK
    assert (message.message_text, message.server_id) == ("wrong network", "192.0.2.1")


def test_what_a_foreign_codec_gives_besides():
    from scapy.layers.dhcp import BOOTP, DHCP

    options = [
        ("message-type", "offer"),
        ("interface-mtu", 1492),
        (114, API.encode()),
        (108, (1800).to_bytes(4)),
        "end",
    ]
    whole = BOOTP(op=2, xid=7, giaddr="192.0.2.2", chaddr=MAC) / DHCP(options=options)
    message = dhcp.decode(bytes(whole))
    assert message.mtu_bytes == 1492
    assert (message.captive_api, message.ipv6_only_s) == (API, 1800)
    assert message.giaddr == "192.0.2.2"


def test_the_default_way_comes_of_the_classless_routes_alone():
    """RFC 3442: option 3 is ignored where 121 is present, even where 121 names no default."""
    one = Route(network="10.17.0.0", prefix=16, router="10.0.0.2")
    without = offered(
        (Option.ROUTERS, bytes([10, 0, 0, 1])), (Option.CLASSLESS_ROUTES, encode_routes([one]))
    )
    assert (without.routers, without.routes) == ((), (one,))
    default = Route(network="0.0.0.0", prefix=0, router="10.0.0.1")
    whole = encode_routes([one, default])
    # The option as bytes: derived from the figure of RFC 3442.
    assert whole == bytes.fromhex("100a110a000002 000a000001")
    assert offered((Option.CLASSLESS_ROUTES, whole)).routers == ("10.0.0.1",)


@given(st.binary(max_size=600))
def test_a_text_of_the_network_is_printable_or_nothing(value):
    found = dhcp_options.text(value)
    assert found is None or (found.isascii() and found.isprintable() and len(found) <= 512)
