"""The rate sold at each layer, as it stands converted on the page, counted out by hand.

A full packet of IPv4 is 1500 octets in Ethernet (RFC 894), 20 of them the header of IPv4 (RFC
791) and 20 that of TCP (RFC 9293): 1460 of payload. Around it (IEEE 802.3 clause 3) stand 6 + 6
octets of addresses and 2 of type, 4 of check sequence, 7 + 1 of preamble and delimiter, and a gap
of 12 octets (clause 4.4.2: 96 bit times).
"""

from dataclasses import replace

import pytest
from records import healthy

from agent.record.model import Record
from agent.sheet.bars import rate_bars
from agent.stats.layers import Packet, convert

IP = 1500
PAYLOAD = IP - 20 - 20
FRAME = IP + 6 + 6 + 2
CHECKED = FRAME + 4
WIRE = CHECKED + 7 + 1 + 12
OCTETS = {"payload": PAYLOAD, "ip": IP, "frame": FRAME, "docsis-frame": CHECKED, "wire": WIRE}


def page_of(layer, share=0.9) -> Record:
    """Return a record of 100 Mbit/s sold at a layer, of which a share is accepted."""
    record = healthy()
    sold = 100e6 * PAYLOAD / OCTETS[layer]
    criteria = tuple(
        replace(c, converted=f"{layer}>payload {PAYLOAD}/{OCTETS[layer]}", limit=share * sold)
        if c.name == "throughput-down"
        else c
        for c in record.assessment.criteria
    )
    tier = replace(record.tier, layer=layer, down_bps=100_000_000, accept_down=share)
    return replace(record, tier=tier, assessment=replace(record.assessment, criteria=criteria))


@pytest.mark.parametrize("layer", OCTETS)
def test_the_octets_of_a_full_packet_are_those_of_the_standards(layer):
    assert Packet().bytes_at(layer) == OCTETS[layer]
    assert convert(100e6, Packet(), layer, "payload") == pytest.approx(
        100e6 * PAYLOAD / OCTETS[layer]
    )


@pytest.mark.parametrize(
    ("layer", "named", "payload", "accepted"),
    [
        ("ip", "IP", "97.33", "87.6"),
        ("frame", "Ethernet frame", "96.43", "86.8"),
        ("docsis-frame", "DOCSIS frame", "96.18", "86.6"),
        ("wire", "wire", "94.93", "85.4"),
    ],
)
def test_the_page_says_what_the_rate_sold_is_as_payload(layer, named, payload, accepted):
    """By hand: 100 * 1460 / 1514 = 96.433, nine tenths of it 86.79; the other layers alike."""
    bar = rate_bars(page_of(layer))[0]
    note = " ".join(bar.note.split())
    assert f"100 Mbit/s at {named} layer = {payload} Mbit/s as TCP payload" in note
    assert f"({PAYLOAD}/{OCTETS[layer]} octets); 90 % of it is accepted." in note
    assert bar.limit.split()[1].startswith(accepted)


def test_a_rate_sold_as_payload_needs_no_conversion():
    bar = rate_bars(page_of("payload"))[0]
    assert "layer =" not in bar.note
    assert " ".join(bar.note.split()).endswith("90 % of it is accepted.")
    assert bar.limit.split()[1] == "90"
