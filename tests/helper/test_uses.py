"""When is asked for which address, and who is taken for its user (RFC 5227 §1.1, §2.1.1)."""

import pytest

from agent.codec import arp
from agent.codec.arp import ArpPacket, Op
from agent.helper.uses import MOST_ADDRESSES, UseProbing

OURS = bytes.fromhex("02005e100001")
RADIO = bytes.fromhex("02005e100002")
THEIRS = bytes.fromhex("02005e100009")
ADDRESS = "192.0.2.30"


def probing(*addresses, held=False):
    asked = UseProbing(own=frozenset({OURS, RADIO}))
    for address in addresses:
        asked.ask(address, 10.0, held=held)
    return asked


def said(sender, hardware=THEIRS, op=Op.REPLY, target="192.0.2.1"):
    packet = ArpPacket(op=op, sender_hardware=hardware, sender=sender, target=target)
    return arp.encode(packet)


def test_three_probes_a_second_apart_then_a_second_to_answer():
    asked = probing(ADDRESS)
    times = [at / 10 for at in range(100, 160) if asked.due(at / 10)]
    assert times == [10.0, 11.0, 12.0]
    assert asked.sent == {ADDRESS: 3}
    assert asked.ends_s() == pytest.approx(13.0)


def test_the_end_is_known_before_the_first_probe():
    asked = probing(ADDRESS)
    assert asked.ends_s() == 13.0
    assert UseProbing(own=frozenset()).ends_s() == 0.0


@pytest.mark.parametrize("op", [Op.REPLY, Op.REQUEST])
def test_another_stations_word_is_a_use_once(op):
    asked = probing(ADDRESS, held=True)
    asked.hear(said(ADDRESS, op=op), 12.5)
    asked.hear(said(ADDRESS, op=op), 900.0)
    assert asked.in_use == [
        {
            "address": ADDRESS,
            "hardware_address": THEIRS.hex(":"),
            "after_ms": 12.5,
            "held": True,
        }
    ]


@pytest.mark.parametrize(
    "frame",
    [
        said(ADDRESS, hardware=OURS),
        said(ADDRESS, hardware=RADIO),
        said("192.0.2.1"),
        said("0.0.0.0", op=Op.REQUEST, target=ADDRESS),
    ],
    ids=["ours", "our other port", "the server itself", "a station that asks as well"],
)
def test_what_is_no_use_of_another(frame):
    asked = probing(ADDRESS)
    asked.hear(frame, 1.0)
    assert (asked.in_use, asked.malformed) == ([], 0)


def test_an_address_offered_and_held_is_asked_for_once_and_stays_held():
    asked = probing(ADDRESS, held=True)
    asked.ask(ADDRESS, 10.4)
    asked.ask("0.0.0.0", 10.4)
    assert asked.due(10.5) == [ADDRESS]
    asked.hear(said(ADDRESS), 1.0)
    assert [use["held"] for use in asked.in_use] == [True]


def test_addresses_and_users_are_bounded():
    asked = probing(*(f"192.0.2.{n}" for n in range(1, 100)))
    assert len(asked.due(10.0)) == MOST_ADDRESSES
    for number in range(50):
        asked.hear(said("192.0.2.1", hardware=bytes((2, 0, 94, 16, 1, number))), 1.0)
    assert len(asked.in_use) == MOST_ADDRESSES


def test_noise_is_counted():
    asked = probing(ADDRESS)
    asked.hear(b"noise", 1.0)
    assert asked.malformed == 1
