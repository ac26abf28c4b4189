"""ARP against RFC 826, RFC 5227 and a foreign codec (scapy)."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from agent.codec import arp
from agent.codec.arp import ArpPacket, Op
from agent.errors import MalformedMessage

OURS = bytes.fromhex("02005e100001")
THEIRS = bytes.fromhex("02005e100009")


def foreign(**fields):
    """A packet of scapy; every address is given, for it would ask this computer's ways else."""
    from scapy.layers.l2 import ARP

    usual = {"hwsrc": THEIRS.hex(":"), "psrc": "192.0.2.30", "pdst": "192.0.2.1"}
    return bytes(ARP(**{**usual, "hwdst": "00:00:00:00:00:00", **fields}))


def spoiled(place, value):
    wire = bytearray(foreign())
    wire[place] = value
    return bytes(wire)


def test_a_probe_is_the_one_of_the_standard():
    """RFC 5227 §2.1.1: sender IP all zero, sender hardware ours, target hardware zero."""
    from scapy.layers.l2 import ARP

    wire = arp.encode(arp.probe(OURS, "192.0.2.30"))
    # RFC 826: hardware 1, protocol 0x0800, lengths 6 and 4, operation 1.
    assert wire[:8] == bytes.fromhex("0001080006040001")
    seen = ARP(wire)
    assert (seen.op, seen.hwsrc, seen.psrc) == (1, OURS.hex(":"), "0.0.0.0")
    assert (seen.hwdst, seen.pdst) == ("00:00:00:00:00:00", "192.0.2.30")
    assert arp.decode(wire).probe


@pytest.mark.parametrize("op", [1, 2])
def test_whoever_says_that_it_has_the_address_uses_it(op):
    """RFC 5227 §2.1.1: any ARP packet, request or reply, whose sender IP is the probed address."""
    wire = foreign(op=op)
    packet = arp.decode(wire + bytes(18))  # padding of a short Ethernet frame
    assert packet.sender_hardware == THEIRS
    assert arp.uses(packet, "192.0.2.30")
    assert not arp.uses(packet, "192.0.2.1")
    assert not packet.probe


@pytest.mark.parametrize(
    "wire",
    [
        b"",
        foreign()[:27],
        spoiled(1, 6),
        spoiled(2, 0x86),
        spoiled(4, 8),
    ],
)
def test_what_is_not_ipv4_over_ethernet_is_malformed(wire):
    with pytest.raises(MalformedMessage):
        arp.decode(wire)


texts = st.ip_addresses(v=4).map(str)
hardware = st.binary(min_size=6, max_size=6)


@given(
    st.builds(
        ArpPacket,
        op=st.sampled_from((Op.REQUEST, Op.REPLY)),
        sender_hardware=hardware,
        sender=texts,
        target_hardware=hardware,
        target=texts,
    )
)
def test_every_packet_survives_the_wire(packet):
    assert arp.decode(arp.encode(packet)) == packet
