"""The practice servers that are set up wrong, read by a foreign codec (scapy)."""

import pytest

from agent.codec import dhcp, pppoe
from agent.codec.dhcp import MessageType
from agent.practice.handing_out import HEADER, LEASE_S, Giver, pado, usual_options

MAC = bytes.fromhex("02005e100001")
OWN = bytes.fromhex("02005e1000fe")
ROUTER, RESOLVER, ADDRESS = "192.0.2.1", "192.0.2.53", "192.0.2.30"


def said(message):
    """The options of a message as scapy reads them."""
    from scapy.layers.dhcp import BOOTP

    whole = BOOTP(dhcp.encode(message))
    return whole, {one[0]: one[1] for one in whole["DHCP options"].options if len(one) == 2}


def asked(kind):
    found = dhcp.discover(xid=9, hardware_address=MAC)
    return dhcp.DhcpMessage(
        op=1, xid=9, hardware_address=MAC, options=((53, bytes([kind])), *found.options[1:])
    )


def giver(options=None, **more):
    return Giver(
        server_id=ROUTER,
        address=ADDRESS,
        options=options or usual_options(ROUTER, RESOLVER),
        **more,
    )


@pytest.mark.parametrize(
    ("kind", "answer"),
    [(MessageType.DISCOVER, 2), (MessageType.REQUEST, 5)],
)
def test_what_is_usual_is_sound(kind, answer):
    """RFC 2131 §4.3.1 Table 3 and §4.4.5: T1 half, T2 seven eighths of the lease."""
    whole, options = said(giver().answer(asked(kind)))
    assert (whole.yiaddr, whole.xid, options["message-type"]) == (ADDRESS, 9, answer)
    assert options["renewal_time"] == 0.5 * options["lease_time"] == LEASE_S / 2
    assert options["rebinding_time"] == 0.875 * options["lease_time"]
    assert (options["router"], options["name_server"]) == (ROUTER, RESOLVER)


def test_a_server_that_refuses_offers_and_then_says_no():
    """RFC 2131 §4.3.2: NAK gives no address and names the server."""
    refusing = giver(refuses=True)
    assert said(refusing.answer(asked(MessageType.DISCOVER)))[1]["message-type"] == 2
    whole, options = said(refusing.answer(asked(MessageType.REQUEST)))
    assert (whole.yiaddr, options["message-type"], options["server_id"]) == ("0.0.0.0", 6, ROUTER)
    assert refusing.answer(asked(MessageType.RELEASE)) is None


def test_reversed_times_stay_reversed():
    options = said(giver(usual_options(ROUTER, RESOLVER, t1_s=3150, t2_s=1800)).answer(asked(1)))[1]
    assert (options["renewal_time"], options["rebinding_time"]) == (3150, 1800)


def test_a_concentrator_answers_him_who_asked():
    """RFC 2516 §5.2: a PADO goes to the host that sent the PADI, and repeats its Host-Uniq."""
    frame = pado(MAC, OWN, pppoe.initiation(b"uniq"), "ternbay-ac1")
    assert (frame[:6], frame[6:12], frame[12:14]) == (MAC, OWN, b"\x88\x63")
    answer = pppoe.decode(frame[HEADER:])
    assert (answer.code, answer.session_id) == (0x07, 0)
    assert (answer.tag(0x0103), len(answer.tag(0x0104))) == (b"uniq", 16)
    other = pado(MAC, OWN, pppoe.initiation(b"uniq"), "ternbay-ac1")
    assert pppoe.decode(other[HEADER:]).tag(0x0104) != answer.tag(0x0104)
