"""PPPoE discovery against RFC 2516 and a foreign codec (scapy)."""

import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from agent.codec import pppoe
from agent.codec.pppoe import Code, Discovery, Tag
from agent.errors import MalformedMessage

MAC = "02:00:5e:10:00:01"
UNIQ = bytes(range(8))


def foreign(code, *tags):
    """A discovery packet of scapy without its Ethernet header."""
    from scapy.layers.ppp import PPPoED, PPPoED_Tags, PPPoETag

    made = [PPPoETag(tag_type=kind, tag_value=value) for kind, value in tags]
    return bytes(PPPoED(version=1, type=1, code=code, sessionid=0) / PPPoED_Tags(tag_list=made))


def test_a_padi_as_the_standard_prints_it():
    """RFC 2516 §4, §5.1 and the example of Appendix B: version and type 1, code 0x09, session 0,
    length 4, one Service-Name tag of no length."""
    bare = Discovery(code=Code.PADI, tags=((Tag.SERVICE_NAME, b""),))
    assert pppoe.encode(bare) == bytes.fromhex("1109 0000 0004 0101 0000")


def test_ours_has_exactly_one_service_name_and_a_mark_of_its_own():
    """RFC 2516 §5.1: exactly one Service-Name; Appendix A: Host-Uniq comes back unmodified."""
    from scapy.layers.ppp import PPPoED

    packet = PPPoED(pppoe.encode(pppoe.initiation(UNIQ)))
    tags = [(tag.tag_type, bytes(tag.tag_value)) for tag in packet.tag_list]
    assert (packet.code, packet.sessionid, packet.version, packet.type) == (9, 0, 1, 1)
    assert tags == [(0x0101, b""), (0x0103, UNIQ)]


def test_a_foreign_pado_is_read():
    wire = foreign(
        0x07, (0x0102, b"ternbay-ac1"), (0x0101, b""), (0x0101, b"net"), (0x0104, b"\1" * 16)
    )
    packet = pppoe.decode(wire + bytes(20))  # padding of a short Ethernet frame
    assert packet.code == Code.PADO
    assert packet.tag(Tag.AC_NAME) == b"ternbay-ac1"
    assert packet.all(Tag.SERVICE_NAME) == (b"", b"net")
    assert packet.tag(Tag.AC_COOKIE) == b"\1" * 16
    assert packet.tag(Tag.HOST_UNIQ) is None


def test_an_offer_repeats_what_ties_it_to_the_question():
    """RFC 2516 §5.2 and Appendix A: AC-Name, a Service-Name, Host-Uniq as it came."""
    from scapy.layers.ppp import PPPoED

    asked = pppoe.decode(foreign(0x09, (0x0101, b""), (0x0103, UNIQ)))
    answer = PPPoED(pppoe.encode(pppoe.offer(asked, name="ternbay-ac1", cookie=b"c")))
    tags = [(tag.tag_type, bytes(tag.tag_value)) for tag in answer.tag_list]
    assert answer.code == 0x07
    assert tags == [
        (0x0102, b"ternbay-ac1"),
        (0x0101, b""),
        (0x0104, b"c"),
        (0x0103, UNIQ),
    ]


def test_nothing_behind_the_end_of_the_list_counts():
    """RFC 2516 Appendix A: End-Of-List."""
    wire = foreign(0x07, (0x0102, b"one"), (0x0000, b""), (0x0101, b"two"))
    assert pppoe.decode(wire).tags == ((0x0102, b"one"),)


@pytest.mark.parametrize(
    "wire",
    [
        "",
        "2107 0000 0000",
        "1207 0000 0000",
        "1107 0000",
        "1107 0000 0005 0101 0000",
        "1107 0000 0004 0101 0001",
        "1107 0000 0002 0101",
        "1107 0000 0104" + "01010000" * 65,
    ],
)
def test_broken_packets_are_malformed(wire):
    with pytest.raises(MalformedMessage):
        pppoe.decode(bytes.fromhex(wire))


tags = st.lists(st.tuples(st.integers(1, 0xFFFF), st.binary(max_size=40)), max_size=12).map(tuple)


@given(st.builds(Discovery, code=st.integers(0, 255), session_id=st.integers(0, 65535), tags=tags))
def test_every_packet_survives_the_wire(packet):
    assert pppoe.decode(pppoe.encode(packet) + b"\0" * 7) == packet


@given(st.binary(max_size=80))
@example(bytes.fromhex("1107000000080101ffff00000000"))
def test_any_bytes_are_a_packet_or_malformed(data):
    try:
        packet = pppoe.decode(data)
    except MalformedMessage:
        return
    assert sum(len(value) + 4 for _, value in packet.tags) <= len(data)
